"""One bad value is one finding; accepted warnings become notes; lines are those of the file."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

import pytest

from gapbook.intake.check import check_layers, under_causes
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.intake.rules.exceptions import STALE
from gapbook.tables.csv_text import record_lines
from gapbook.tables.opening import open_package
from small import even

TODAY = datetime.date(2026, 11, 25)


def rule(code: str, severity: str = "warning", follows: tuple[str, ...] = (), look=lambda context: []) -> Rule:
    return Rule(code, Severity(severity), code, "why", "where from", "how to mend", look, follows)


def placed(one: Rule, about: str) -> Finding:
    return Finding(
        "frames", None, "", "", about=about, code=one.code, severity=one.severity, file="frames.csv", line=2, row_key="k"
    )


def tree(finding: Finding) -> object:
    """A finding's code, with those of its consequences if it has any."""
    return (finding.code, [tree(cause) for cause in finding.causes]) if finding.causes else finding.code


A, B, C = rule("a"), rule("b", follows=("a",)), rule("c", follows=("b",))
GRAVE = rule("grave", "error", follows=("a",))
LOOP, BACK = rule("loop", follows=("back",)), rule("back", follows=("loop",))
HEAD = rule("head-area", follows=("a",))
CLOSE = rule("misclosure", follows=("a",))
FOLLOWS = {one.code: one.follows for one in (A, B, C, GRAVE, LOOP, BACK, HEAD, CLOSE)}
# what was found (rule, subject), what is to be reported
CASES = {
    "nothing": ([], []),
    "a consequence": ([(A, "x"), (B, "x")], [("a", ["b"])]),
    "the consequence comes first": ([(B, "x"), (A, "x")], [("a", ["b"])]),
    "another subject": ([(A, "x"), (B, "y")], ["a", "b"]),
    "no subject": ([(A, ""), (B, "")], ["a", "b"]),
    "no cause": ([(B, "x")], ["b"]),
    "a consequence of a consequence": ([(A, "x"), (B, "x"), (C, "x")], [("a", ["b", "c"])]),
    "two consequences": ([(A, "x"), (B, "x"), (B, "x")], [("a", ["b", "b"])]),
    "two causes: the first": ([(A, "x"), (A, "x"), (B, "x")], [("a", ["b"]), "a"]),
    "a graver one is not a consequence": ([(A, "x"), (GRAVE, "x")], ["a", "grave"]),
}


@pytest.mark.parametrize("case", CASES)
def test_what_follows_is_listed_under_its_cause(case):
    found, wanted = CASES[case]
    items = [placed(one, about) for one, about in found]
    assert [tree(finding) for finding in under_causes(items, FOLLOWS)] == wanted


def reading(one: Rule, line: int, quantity: str, table: str = "readings", found: str = "") -> Finding:
    """A finding at a reading of a copy x, or at its spacings."""
    key = f"x/{quantity}/true/ida" if table == "readings" else "x"
    return replace(placed(one, "x"), table=table, file=f"{table}.csv", line=line, row_key=key, found=found)


# where the causes stand (line, quantity), what follows from one of them, and the line of that one
NEAREST = {
    "the same row": ([(2, "length"), (3, "mass")], reading(B, 3, "mass"), 3),
    "a head's area": ([(2, "length"), (3, "mass"), (4, "head_area")], reading(HEAD, 2, "", "spacings"), 4),
    "a bed's width": ([(2, "head_length"), (3, "head_width")], reading(CLOSE, 2, "", "spacings", "the width read"), 3),
    "a bed's length": ([(2, "length"), (3, "head_length")], reading(CLOSE, 2, "", "spacings", "the length read"), 3),
    "a quantity named": ([(2, "length"), (3, "balance")], reading(B, 9, "swingweight", found="balance 12 mm"), 3),
    "none of these": ([(2, "length"), (3, "mass")], reading(B, 9, "balance"), 2),
}


@pytest.mark.parametrize("case", NEAREST)
def test_of_several_causes_the_nearest_is_taken(case):
    causes, follows, line = NEAREST[case]
    found = under_causes([*(reading(A, at, quantity) for at, quantity in causes), follows], FOLLOWS)
    assert [one.line for one in found if one.causes] == [line]


def test_two_that_follow_from_each_other_are_both_kept():
    items = [placed(one, "x") for one in (LOOP, BACK)]
    codes = [
        code for finding in under_causes(items, FOLLOWS) for code in (finding.code, *(cause.code for cause in finding.causes))
    ]
    assert sorted(codes) == ["back", "loop"]


def checked(folder: Path, *rules: Rule):
    return check_layers(open_package(folder), None, today=TODAY, rules=rules).report


def first_frame(context):
    return [Finding("frames", "mains", "16", "17", rows=(0,))]


# severity of the rule, the exception's rule and key; what is reported: code, severity, row key
EXCEPTED = {
    "accepted": ("warning", ("odd", "one"), [("odd", "note", "one")]),
    "another row": ("warning", ("odd", "two"), [("odd", "warning", "one"), ("exception-stale", "note", "odd/two")]),
    "another rule": ("warning", ("even", "one"), [("odd", "warning", "one"), ("exception-stale", "note", "even/one")]),
    "errors are not accepted": ("error", ("odd", "one"), [("odd", "error", "one"), ("exception-stale", "note", "odd/one")]),
}


@pytest.mark.parametrize("case", EXCEPTED)
def test_exceptions(tmp_path, case):
    severity, (code, key), wanted = EXCEPTED[case]
    small = even()
    small.add("exceptions", rule=code, row_key=key, reason="seen", who="ida", decided_on="2026-05-01")
    report = checked(small.write(tmp_path / "package"), rule("odd", severity, look=first_frame), STALE)
    assert [(item.code, str(item.severity), item.row_key) for item in report.findings] == wanted
    accepted = [item for item in report.findings if item.code == "odd" and item.severity is Severity.note]
    assert all("ida" in item.fix and "2026-05-01" in item.fix and "seen" in item.fix for item in accepted)


def test_a_rule_that_fails_is_told_apart_and_hides_nothing(tmp_path):
    def stumble(context):
        raise ZeroDivisionError("of its own")

    report = checked(even().write(tmp_path / "package"), rule("odd", look=stumble), rule("sound", look=first_frame))
    assert [item.code for item in report.findings] == ["sound"]
    assert report.broken == ("odd: ZeroDivisionError: of its own",)
    failed = {item["code"]: item["failed"] for item in report.to_json()["rules"]}
    assert failed == {"odd": "odd: ZeroDivisionError: of its own", "sound": None}


# text of a file with a header; the line each data record starts on
FILES = {
    "plain": (b"a,b\n1,2\n3,4\n", [2, 3]),
    "carriage returns": (b"a,b\r\n1,2\r\n3,4\r\n", [2, 3]),
    "a blank line": (b"a,b\n\n1,2\n3,4\n", [3, 4]),
    "blank lines at the top": (b"\n\na,b\n1,2\n\n3,4\n", [4, 6]),
    "blank lines with carriage returns": (b"a,b\r\n1,2\r\n\r\n3,4\r\n", [2, 4]),
    "a cell of two lines": (b'a,b\n"1\n1",2\n3,4\n', [2, 4]),
    "quotes on one line": (b'a,b\n"1",2\n3,"4"\n', [2, 3]),
    "a byte-order mark": (b"\xef\xbb\xbfa,b\n1,2\n3,4\n", [2, 3]),
    "no last line end": (b"a,b\n1,2\n3,4", [2, 3]),
}


@pytest.mark.parametrize("case", FILES)
def test_physical_lines(case):
    text, lines = FILES[case]
    assert record_lines(text).tolist() == lines
