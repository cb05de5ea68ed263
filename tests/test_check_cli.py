"""`gapbook check` as people and programs run it."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from gapbook.intake.check import check
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Report, Rule
from gapbook.intake.rules import RULES
from gapbook.screens.findings import (
    SHOWN,
    by_code,
    contributors,
    report_markdown,
    rules_markdown,
    screen,
    summary,
)
from gapbook.signs import markdown
from gapbook.tables.schemas import parse_schema
from running import gapbook
from small import ROOT, even

FINDING_KEYS = ["code", "severity", "table", "file", "line", "column", "row_key", "found", "expected", "fix", "causes"]


def run(*arguments: object) -> subprocess.CompletedProcess[str]:
    return gapbook("check", *arguments)


def test_a_clean_package_and_its_json(tmp_path):
    folder = even().write(tmp_path / "package")
    done = run(folder, "--json")
    found = json.loads(done.stdout)
    assert done.returncode == 0, done.stderr
    assert list(found) == ["findings", "counts", "rows", "rules"]
    assert found["findings"] == []
    assert found["counts"] == {"error": 0, "warning": 0, "note": 0}
    assert found["rows"] == 1 + 1 + 15 + 18 + 5 + 2  # frame, copy, gaps, instruments, people
    assert [rule["code"] for rule in found["rules"]] == [rule.code for rule in RULES]


def test_an_error_is_exit_status_1_and_has_every_key(tmp_path):
    folder = even().write(tmp_path / "package")
    spacings = folder / "catalogue" / "spacings.csv"
    lines = spacings.read_text(encoding="utf-8").splitlines()
    lines[4] = lines[4].removesuffix("mm") + "furlong"
    spacings.write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = run(folder, "--json")
    (found,) = json.loads(done.stdout)["findings"]
    assert done.returncode == 1
    assert list(found) == FINDING_KEYS
    assert (found["code"], found["line"], found["column"]) == ("unit-unknown", 5, "unit")
    assert found["file"] == "catalogue/spacings.csv"
    for option in ((), ("--markdown",)):
        said = run(folder, *option)
        assert said.returncode == 1
        assert "catalogue/spacings.csv:5" in said.stdout.replace("\\", "")


@pytest.mark.parametrize("what", ["nowhere", "package/catalogue/frames.csv"])
def test_what_cannot_be_read_is_exit_status_2(tmp_path, what):
    even().write(tmp_path / "package")
    done = run(tmp_path / what, "--package", tmp_path / "package")
    assert done.returncode == 2
    assert done.stdout == ""
    assert "gapbook:" in done.stderr
    assert "Traceback" not in done.stderr


def finding(code: str, severity: Severity, line: int, **more: object) -> Finding:
    cells = {"row_key": "k", "found": "1", "expected": "2", "fix": "mend it"} | more
    return Finding(code=code, severity=severity, table="frames", file="frames.csv", line=line, column="mains", **cells)


def report(*findings: Finding, broken: tuple[str, ...] = ()) -> Report:
    rules = [Rule(code, Severity.error, f"about {code}", "", "", "", lambda context: []) for code in ("bad", "odd")]
    return Report(findings, 1234, tuple(rules), broken)


def printed(what: Report, capsys) -> str:
    from gapbook.screens import page

    page.show(*screen(what, "here"))
    return capsys.readouterr().out


def test_the_first_few_of_each_code_are_shown_and_all_are_counted(capsys):
    many = [finding("bad", Severity.error, line) for line in range(2, 14)] + [finding("odd", Severity.warning, 99)]
    said = printed(report(*many), capsys)
    assert [f"frames.csv:{line}," in said for line in range(2, 14)] == [True] * SHOWN + [False] * (12 - SHOWN)
    assert f"and {12 - SHOWN} more of this kind" in said
    assert "frames.csv:99" in said
    assert "12 errors, 1 warning, 0 notes in 1,234 rows" in said
    assert said.index("bad") < said.index("odd")
    for severity in ("error", "warning", "note"):
        assert f"{severity}: " in said  # the legend


def test_consequences_stand_under_their_cause(capsys):
    cause = finding("odd", Severity.warning, 3, found="a consequence")
    said = printed(report(finding("bad", Severity.error, 2, causes=(cause,))), capsys)
    assert "with it odd: found a consequence" in said
    assert "1 error, 0 warnings" in said


def test_what_data_hold_is_printed_and_not_obeyed(capsys):
    said = printed(report(finding("bad", Severity.error, 2, found="[red]\x1b[31m‮")), capsys)
    assert "[red]\\u{1b}[31m\\u{202e}" in said
    assert "\x1b" not in said


def test_a_failure_of_the_checker_is_not_the_contributors(capsys):
    said = printed(report(broken=("odd: KeyError: 'x'",)), capsys)
    assert "gapbook itself failed" in said
    assert "odd: KeyError: 'x'" in said
    assert report(broken=("odd: KeyError: 'x'",)).counts == {"error": 0, "warning": 0, "note": 0}


def test_findings_by_contributor():
    found = [
        finding("bad", Severity.error, 2, contributor="ole"),
        finding("odd", Severity.warning, 3, contributor="ida"),
        finding("odd", Severity.warning, 4, contributor="ida"),
        finding("odd", Severity.note, 5),
    ]
    assert [(who, dict(number)) for who, number in contributors(found)] == [("ole", {"error": 1}), ("ida", {"warning": 2})]
    assert [(code, len(items)) for code, _, items in by_code(found)] == [("bad", 1), ("odd", 2), ("odd", 1)]
    assert "1 error, 2 warnings, 1 note" in summary(report(*found), "here")


# a cell's text; how it stands in Markdown
CELLS = [
    ("plain", "plain"),
    ("a|b", "a\\|b"),
    ("<b>", "\\<b\\>"),
    ("*x*", "\\*x\\*"),
    ("two\nlines", "two\\\\u\\{a\\}lines"),
]


@pytest.mark.parametrize(("text", "wanted"), CELLS)
def test_markdowns_stand_for_themselves(text, wanted):
    assert markdown(text) == wanted


def test_markdown_has_every_code_and_count():
    many = [finding("bad", Severity.error, line) for line in range(2, 14)]
    said = report_markdown(report(*many), "here")
    rows = [line for line in said.splitlines() if line.startswith("| frames.csv:")]
    assert len(rows) == SHOWN
    assert f"and {12 - SHOWN} more of this kind" in said


def test_every_rule_says_why_and_where_from():
    codes = [rule.code for rule in RULES]
    assert len(set(codes)) == len(codes)
    for rule in RULES:
        assert all((rule.title, rule.rationale, rule.source, rule.fix)), rule.code
        assert set(rule.follows) <= set(codes), rule.code
    listed = rules_markdown(RULES)
    assert all(f"`{code}`" in listed for code in codes)
    for option in ((), ("--markdown",), ("--json",)):
        done = run("--rules", *option)
        assert done.returncode == 0
        assert all(code in done.stdout for code in codes)


@pytest.mark.parametrize("way", ["fast", "cell by cell"])
@pytest.mark.parametrize(
    ("reason", "allowed"),
    [
        ("seen", True),
        ("ça va", True),
        ("видно", True),
        ("見た", True),
        ("봤다", True),
        ("2 mm more, seen on the frame", True),
        (" ", False),
        ("?!", False),
        ("12", False),
        ("—", False),
    ],
)
def test_a_reason_has_a_letter_in_it(tmp_path, reason, allowed, way):
    small = even()
    small.add("exceptions", rule="mirror", row_key="x", reason=reason, who="ida", decided_on="2026-05-01")
    if way == "cell by cell":  # as a fault in another row has it
        small.add("exceptions", rule="mirror", row_key="y", reason="seen", who="ida", decided_on="soon")
    report = check(small.write(tmp_path / "package")).report
    found = [finding.column for finding in report.errors if finding.line == 2]
    assert found == ([] if allowed else ["reason"])


def test_exceptions_name_their_rule_and_row():
    schema = parse_schema("exceptions", json.loads((ROOT / "schema" / "exceptions.json").read_text(encoding="utf-8")))
    assert schema.primary_key == ("rule", "row_key")
    (reason,) = [item for item in schema.fields if item.name == "reason"]
    assert reason.pattern
    assert Path(ROOT / "catalogue" / "exceptions.csv").exists()
