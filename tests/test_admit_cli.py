"""`gapbook admit` as a user runs it: exit statuses, documented JSON, what is printed."""

from __future__ import annotations

import contextlib
import itertools
import json
import os
import re
import shlex
import sys

import pytest

from contributed import even_bed, own, package_in, sent, state
from gapbook.commands.admit import HELP
from running import ROOT, gapbook
from small import Small

if os.name != "nt":
    import pty


def new_tester(name: str = "bo") -> Small:
    """A contribution no rule has a word against."""
    small = own()
    small.add("testers", tester_id=name, style="flat", own_frame="none")
    return small


def new_frame(head_area: object) -> Small:
    """A contribution of one frame."""
    small = own()
    small.frame("three", area=head_area)  # type: ignore[arg-type]
    return small


def one_out_of_line() -> Small:
    """A new bed, one gap of which is 2 mm wider than the others."""
    small = even_bed("three", "three-a")
    small.tables["spacings"][7]["value"] = "14.5"
    return small


@pytest.fixture
def root(tmp_path):
    return package_in(tmp_path / "package").root


def test_added_then_there(root, tmp_path):
    folder = sent(new_tester(), tmp_path / "sent")
    run = gapbook("admit", str(folder), "--package", str(root))
    assert run.returncode == 0, run.stderr
    assert run.stdout.startswith("Added 1 row of")
    run = gapbook("admit", str(folder), "--package", str(root))
    assert run.returncode == 0, run.stderr
    assert run.stdout.startswith("Nothing to add:")


def test_an_error_is_printed_and_nothing_written(root, tmp_path):
    before = state(root)
    folder = sent(new_frame("98 sq in"), tmp_path / "sent")
    run = gapbook("admit", str(folder), "--package", str(root))
    assert run.returncode in (1, 2)  # 2 if the reader itself stops
    assert "head_area_cm2" in run.stdout + run.stderr
    assert "Traceback" not in run.stderr
    assert state(root) == before


def test_a_contradiction_is_refused_with_both_values(root, tmp_path):
    small = own()
    small.add("testers", tester_id="ann", style="topspin", own_frame="none")  # the good package has flat
    run = gapbook("admit", str(sent(small, tmp_path / "sent")), "--package", str(root))
    assert run.returncode == 1
    assert run.stdout.startswith("Not admitted:")
    assert "conflicting-key" in run.stdout
    assert re.search(r"topspin.*flat|flat.*topspin", run.stdout, re.DOTALL)


def test_json_has_the_documented_keys(root, tmp_path):
    run = gapbook("admit", str(sent(new_tester(), tmp_path / "sent")), "--package", str(root), "--dry-run", "--json")
    assert run.returncode == 0, run.stderr
    document = json.loads(run.stdout)
    keys = ["status", "dry_run", "rows", "already_there", "accepted", "open", "change", "check", "package"]
    assert list(document) == keys
    assert (document["status"], document["dry_run"], document["rows"]) == ("admissible", True, {"testers": 1})
    assert list(document["change"]) == ["beds", "uncertainty_only", "new_frames", "verdicts"]
    assert list(document["change"]["verdicts"]) == ["confidence", "pairs", "changed", "frames"]
    assert list(document["check"]) == ["findings", "counts", "rows", "rules"]
    named = set(re.findall(r'"([a-z_-]+)"', HELP))
    assert set(keys) | set(document["change"]) | set(document["change"]["verdicts"]) <= named


@pytest.mark.parametrize(
    "options",
    [
        ("--all-of", "misclosure"),
        ("--all-of", "misclosure", "--reason", "why"),
        ("--reason", "why", "--who", "ida"),
        ("--all-of", "misclosure", "--reason", " ", "--who", "ida"),
        ("--all-of", "misclosure", "--reason", "why", "--who", "\t"),
        ("--all-of", "misclosure", "--reason", "?!", "--who", "ida"),
        ("--confidence", "2"),
        ("--accept", "misclosure", "--reason", "why", "--who", "ida"),
        ("--accept", "no-such-rule@one-a", "--reason", "why", "--who", "ida"),
    ],
)
def test_bad_usage_is_two(root, tmp_path, options):
    run = gapbook("admit", str(sent(new_tester(), tmp_path / "sent")), "--package", str(root), *options)
    assert run.returncode == 2
    assert run.stderr.startswith("gapbook: ")
    assert "Traceback" not in run.stderr


def test_what_there_was_nothing_to_accept_of_is_said(root, tmp_path):
    options = ("--all-of", "misclosure", "--reason", "why", "--who", "ida")
    run = gapbook("admit", str(sent(new_tester(), tmp_path / "sent")), "--package", str(root), *options)
    assert run.returncode == 0, run.stderr
    assert "There was nothing to accept under misclosure." in run.stdout


@pytest.mark.parametrize("accepted", [(), ("--all-of", "mirror", "--reason", "it's so", "--who", "ida")])
@pytest.mark.parametrize("options", [(), ("--dry-run", "--confidence", "0.9")])
@pytest.mark.slow_after(1)
def test_the_command_offered_is_the_one_typed_and_what_is_missing(tmp_path, accepted, options, monkeypatch):
    monkeypatch.setenv("COLUMNS", "50")
    root = package_in(tmp_path / "the package").root
    folder = sent(one_out_of_line(), tmp_path / "what is sent; here")
    typed = ["admit", str(folder), "--package", str(root), *options]
    run = gapbook(*typed, *accepted)
    assert run.returncode == 1, run.stderr
    (line,) = [line for line in run.stdout.splitlines() if line.startswith("  gapbook admit")]
    words = shlex.split(line)
    assert words[: len(typed) + 1] == ["gapbook", *typed]
    rest = words[len(typed) + 1 :]
    assert rest[:2] == ["--all-of", "mirror"] or not accepted
    codes = [code for option, code in itertools.pairwise(rest) if option in ("--accept", "--all-of")]
    assert "gap-out-of-line@three-a/main/0/gap/8/ida/cal/2026-03-01/1" in codes
    wanted = ["--reason", "it's so", "--who", "ida"] if accepted else ["--reason", "TEXT", "--who", "CONTRIBUTOR_ID"]
    assert rest[2 * len(codes) :] == wanted
    done = gapbook(*words[1:-4], "--reason", "seen", "--who", "ida")
    assert done.returncode == 0, done.stdout + done.stderr


def test_no_such_folder_is_two(root, tmp_path):
    run = gapbook("admit", str(tmp_path / "nowhere"), "--package", str(root))
    assert run.returncode == 2
    assert run.stderr.startswith("gapbook: ")


def test_one_by_one_needs_a_terminal(root, tmp_path):
    run = gapbook("admit", sent(new_tester(), tmp_path / "sent"), "--package", root, "--one-by-one", "--who", "ida")
    assert run.returncode == 2
    assert "terminal" in run.stderr


@pytest.mark.skipif(os.name == "nt", reason="there are no pseudo-terminals")
def test_one_by_one_on_a_terminal(root, tmp_path):
    folder = sent(one_out_of_line(), tmp_path / "sent")
    command = [sys.executable, "-m", "gapbook", "admit", str(folder), "--package", str(root), "--one-by-one", "--who", "ole"]
    pid, terminal = pty.fork()
    if not pid:
        os.execve(sys.executable, command, {**os.environ, "PYTHONPATH": str(ROOT / "derive")})
    seen = b""
    answered = 0
    with contextlib.suppress(OSError):  # the end of a terminal
        while part := os.read(terminal, 4096):
            seen += part
            while seen.count(b"Why is it right?") > answered:
                answered += 1
                os.write(terminal, b"stepped drilling, seen\n")
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0, seen.decode()
    assert answered >= 1
    assert b"found 14.5" in seen
    rows = (root / "catalogue" / "exceptions.csv").read_text(encoding="utf-8").splitlines()[1:]
    assert len(rows) == answered
    assert all('"stepped drilling, seen",ole,' in row for row in rows)
