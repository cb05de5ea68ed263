"""The command line as a user runs it: output, JSON keys, exit statuses, pipes, and what must never happen."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys

import pytest

from contributed import own, sent
from gapbook.commands.app import COMMANDS
from opens import PHOTO
from photographed import example
from running import ROOT, gapbook, started_anew

QUESTION = "95-98 sq in, 16 mains, tighter centre than fern-98"


def test_ask_json_has_the_documented_keys():
    run = gapbook("ask", QUESTION, "--json")
    assert run.returncode == 0
    document = json.loads(run.stdout)
    assert list(document) == ["question", "reference", "searched", "matches", "undecided", "package"]
    assert set(document["reference"]) == {"frame_id", "openness", "u_openness", "basis"}
    assert document["package"] == {"name": "gapbook", "version": "0.1.0"}
    keys = {"frame_id", "basis", "mains", "crosses", "head_area_cm2", "openness", "u_openness"}
    keys |= {"difference_percent", "probability", "verdict", "why"}
    for entry in document["matches"] + document["undecided"]:
        assert set(entry) == keys
        assert set(entry["why"]) == {"size", "count", "drilling"}
    assert document["matches"]
    assert document["undecided"]


def test_another_zone_has_a_fourth_part():
    document = json.loads(gapbook("find", "--more-open-than", "fern-98", "--where", "sides", "--json").stdout)
    assert all(set(entry["why"]) == {"size", "count", "drilling", "zone"} for entry in document["matches"])
    assert document["matches"]


def test_ask_and_find_are_the_same_question():
    asked = json.loads(gapbook("ask", QUESTION, "--json").stdout)
    found = json.loads(gapbook("find", "--head", "95..98", "--mains", "16", "--tighter-than", "fern-98", "--json").stdout)
    assert asked == found


@pytest.mark.parametrize(
    "arguments",
    [
        ("ask", QUESTION),
        ("ask", "more open sides than fern-98"),
        ("ask", "16x19, 89 sq in, tighter than burdock-89"),
        ("find", "--pattern", "18x20"),
        ("show", "fern-98"),
        ("show", "clover-98"),
        ("compare", "fern-98", "moraine-98"),
        ("compare", "fern-98", "fern-98-a", "--where", "tip"),
        ("sql", "select frame_id, basis from scores"),
    ],
    ids=" ".join,
)
@pytest.mark.slow_after(3)
def test_screens_fit_eighty_columns_without_escapes(arguments):
    run = gapbook(*arguments)
    assert run.returncode == 0, run.stderr
    assert run.stderr == ""
    assert max(len(line) for line in run.stdout.splitlines()) <= 80
    assert "\x1b" not in run.stdout


def test_a_screen_shows_mesh_first_with_its_uncertainty():
    lines = gapbook("ask", QUESTION).stdout
    assert lines.startswith("Understood: head 95 to 98 sq in, 16 mains, tighter centre than fern-98\n")
    assert "11.22 ± 0.23 mm" in lines  # tests/bench/plain.py, written from the definitions: 112.186 ± 2.259 over 10
    assert "Too close to call" in lines
    assert lines.index("mesh") < lines.index("open-")


@pytest.mark.parametrize(("columns", "why"), [("60", False), ("74", True), ("100", True)])
def test_narrow_and_wide_windows_crop_nothing(columns, why):
    run = gapbook("ask", QUESTION, COLUMNS=columns)
    assert max(len(line) for line in run.stdout.splitlines()) <= int(columns)
    row = next(line for line in run.stdout.splitlines() if line.startswith("moraine-98-club "))
    assert "10.51 ± 0.27" in row  # so: 105.081 ± 2.695 over 10
    assert (row.split()[-1] == "−4.4") == why


def test_version():
    run = gapbook("--version")
    assert run.returncode == 0
    assert run.stdout.endswith("data package gapbook 0.1.0\n")


USAGE = [
    (("ask", "tighter in the centre"), "tighter in the centre than FRAME"),
    (("ask", "16 mains, 18x20"), "both cannot hold"),
    (("ask", ""), "95-98 sq in"),
    (("ask", "like ferm-98"), "fern-98"),
    (("ask", "under 98"), "under 98 sq in"),
    (("find", "--head", "98..95"), "head"),
    (("find", "--mains", "nan"), "nan"),
    (("find", "--confidence", "2"), "confidence"),
    (("compare", "fern-98"), "two"),
    (("show", "ferm-98"), "fern-98"),
    (("sql", "select 1; select 2"), "one SELECT"),
    (("sql", "drop table scores"), "one SELECT"),
    (("derive", "--part", "nonsense"), "beds"),
    (("ask", "like fern-98", "--package", "nowhere"), "datapackage.json"),
    (("nonsense",), "nonsense"),
]


@pytest.mark.parametrize(("arguments", "told"), USAGE, ids=[" ".join(case[0]) for case in USAGE])
def test_bad_usage_exits_2_and_says_how_to_mend_it(arguments, told):
    run = gapbook(*arguments)
    assert run.returncode == 2
    assert run.stdout == ""
    assert told in run.stderr
    assert "Traceback" not in run.stderr


def test_a_closed_pipe_is_no_error():
    command = f'{sys.executable} -m gapbook sql "select * from spacings" --json | head -n 1; echo ${{PIPESTATUS[0]}}'
    env = {**os.environ, "PYTHONPATH": str(ROOT / "derive")}
    run = subprocess.run(["bash", "-c", command], cwd=ROOT, env=env, capture_output=True, text=True)
    assert run.stdout.splitlines() == ["{", "0"]
    assert run.stderr == ""


FORBIDDEN = [
    "select * from read_csv('datapackage.json')",
    "select * from 'catalogue/frames.csv'",
    "copy (select 1) to 'out.csv'",
    "attach 'x.db'",
    "install httpfs",
    "set enable_external_access = true",
    "select 1; drop table scores",
    "create table t as select 1",
    "pragma database_list",
    "select * from glob('*')",
    "select * from read_text('LICENSE')",
]


@pytest.mark.parametrize("statement", FORBIDDEN)
def test_sql_is_locked(statement, tmp_path):
    before = sorted(path.name for path in ROOT.iterdir())
    run = gapbook("sql", statement)
    assert run.returncode == 2
    assert run.stdout == ""
    assert sorted(path.name for path in ROOT.iterdir()) == before


def test_sql_views_say_their_units():
    document = json.loads(gapbook("sql", "--views", "--json").stdout)
    views = {view["name"]: {column["name"]: column["unit"] for column in view["columns"]} for view in document["views"]}
    assert views["beds"]["main_pitch_centre_mm"] == "mm"
    assert views["spacings_si"]["value_mm"] == "mm"
    statement = "select value, unit, value_mm from spacings_si where unit = 'in' limit 1"
    found = json.loads(gapbook("sql", statement, "--json").stdout)
    (row,) = found["rows"]
    assert row["value_mm"] == pytest.approx(row["value"] * 25.4, rel=1e-12)  # NIST SP 811: exact


def test_data_cannot_steer_the_terminal(tmp_path):
    """A note with an escape sequence, a right-to-left override or markup is printed, not obeyed."""
    import invent

    out = tmp_path / "package"
    invent.main(["--specimens", "30", "--seed", "2", "--out", str(out)])
    frames = out / "catalogue" / "frames.csv"
    first = frames.read_text(encoding="utf-8").splitlines()[1].split(",")
    text = frames.read_text(encoding="utf-8").replace(f",{first[1]},", ",Ev\x1b]0;x\x07il\u202e [red]Ltd,", 1)
    frames.write_text(text, encoding="utf-8")
    assert gapbook("derive", "--package", str(out)).returncode == 0
    run = gapbook("show", first[0], "--package", str(out))
    assert run.returncode == 0
    assert "[red]" in run.stdout
    assert not {"\x1b", "\x07", "\u202e"} & set(run.stdout)


def test_a_package_without_derived_tables_says_what_to_run(tmp_path):
    import invent

    out = tmp_path / "package"
    invent.main(["--specimens", "30", "--seed", "2", "--out", str(out)])
    (out / "catalogue" / "derived" / "scores.csv").unlink()
    run = gapbook("ask", "16 mains", "--package", str(out))
    assert run.returncode == 2
    assert "gapbook derive" in run.stderr


DRILL = ("--head", "98 sq in", "--pattern", "16x19", "--centre", "10.8", "--sides", "+12%")
WHY = ("--reason", "as an example", "--who", "tam-veldrick", "--dry-run")
EVERY = (
    "ask", "find", "show", "compare", "check", "admit", "agreement", "derive", "sql", "relate", "retension", "advise", "draw",
    "chart", "atlas", "sheet", "design", "export", "near", "drill", "pages", "photo", "start", "upgrade", "convert", "enter",
    "correct", "withdraw", "rename", "merge", "forget", "history", "release",
)  # fmt: skip
REFUSED = (("ask", "under 98"), ("show", "ferm-98"), ("check", "nowhere"), ("nonsense",), ())
DOING = (
    ("ask", QUESTION), ("find", "--pattern", "18x20", "--json"), ("show", "fern-98"), ("compare", "fern-98", "moraine-98"),
    ("check", "--json"), ("agreement",), ("sql", "select * from scores"), ("relate", "openness_centre", "launch_angle_deg"),
    ("retension", "fern-98", "moraine-98", "--at", "24kg"), ("advise", "fern-98"),
    ("draw", "fern-98", "--out", "bed.svg"), ("chart", "openness_centre", "mass", "--out", "all.pdf"),
    ("atlas", "--out", "atlas"), ("sheet", "fern-98", "--out", "sheet.pdf", "--on", "2026-05-04"),
    ("export", "--out", "parquet"), ("design", "openness_centre", "spin_rpm", "--effect", "10"),
    ("derive",), ("admit", "sent"), ("near", "fern-98"),
    ("drill", *DRILL, "--out", "drilling.svg"),
    ("start", "club", "--title", "Beds", "--licence", "CC0-1.0", "--who", "ada-moss", "--name", "Ada Moss"),
    ("convert", "list.csv", "--out", "converted"), ("enter", "blank-csv"), ("upgrade", "--dry-run"),
    ("correct", "fern-98", "--table", "frames", "--column", "mass_g", "--value", "321", *WHY),
    ("withdraw", "hit-001", *WHY), ("rename", "fern-98", "fern-98-retail", *WHY),
    ("merge", "scale-post", "scale-kitchen", *WHY), ("forget", "edric-sallow", *WHY),
    ("history", "fern-98"), ("release", "0.2.0", "--out", "released"), ("pages", "--out", "pages.pdf"),
    ("photo", "bed.jpg", *PHOTO, "--on", "2026-05-04", "--out", "bed"),
)  # fmt: skip


PROGRESS = re.compile(r"^gapbook: [a-z -]+ \(\d+ s\)\n", re.MULTILINE)


def test_the_commands_are_these():
    assert sorted(COMMANDS) == sorted(EVERY) == sorted({arguments[0] for arguments in DOING})


@pytest.mark.slow
@pytest.mark.parametrize("arguments", [*DOING, *REFUSED], ids=" ".join)
def test_a_fork_does_what_a_python_started_anew_does(copied, tmp_path, arguments):
    """The other tests have their commands forked from a process that has imported everything (running.py)."""
    contribution = own()
    contribution.add("testers", tester_id="bo", style="flat", own_frame="none")
    sent(contribution, copied / "sent")
    (copied / "bed.jpg").write_bytes(example())
    rows = (copied / "catalogue" / "spacings.csv").read_bytes().splitlines(keepends=True)
    (copied / "list.csv").write_bytes(b"".join(rows[:70]))
    gapbook("sheet", "fern-98", "--contributor", "ada-moss", "--out", "blank.pdf", cwd=copied, GAPBOOK_PACKAGE=".")
    did = []
    for way in (gapbook, started_anew):
        folder = shutil.copytree(copied, tmp_path / way.__name__)
        run = way(*arguments, cwd=folder, GAPBOOK_PACKAGE=".")
        files = {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
        told = PROGRESS.sub("", run.stderr)  # whether a run is slow enough to tell of its progress is chance
        did.append((run.returncode, run.stdout, told, files))
    assert did[0] == did[1]
    assert did[0][0] == (0 if arguments in DOING else 2)


@pytest.mark.parametrize("command", EVERY)
@pytest.mark.slow_after(3)
def test_every_command_has_help(command):
    run = started_anew(command, "--help")
    assert run.returncode == 0
    assert ("--package" in run.stdout) == (command not in ("start", "pages"))  # which open no package
