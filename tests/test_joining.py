"""A contribution asked beside its package: its rows answer, and neither is changed."""

from __future__ import annotations

import json

import pytest

from contributed import even_bed, own, package_in, sent, state
from gapbook import GapbookError, open_catalogue
from running import gapbook
from small import ROOT


def test_rows_of_both_are_asked(tmp_path):
    package, folder = package_in(tmp_path / "package"), sent(even_bed("new", "new-x", main=11.0), tmp_path / "sent")
    before = state(package.root), state(folder)
    plain = open_catalogue(package.root)
    joined = open_catalogue(package.root, beside=folder)
    text = "select specimen_id, round(main_pitch_centre_mm, 6) as pitch from beds order by 1"
    rows = joined.sql(text).to_pylist()
    assert [row for row in rows if row["specimen_id"] != "new-x"] == plain.sql(text).to_pylist()
    assert {"specimen_id": "new-x", "pitch": 11.0} in rows
    assert (state(package.root), state(folder)) == before


def test_the_command_asks_both_and_leaves_nothing_behind(tmp_path, monkeypatch):
    package, folder = package_in(tmp_path / "package"), sent(even_bed("new", "new-x"), tmp_path / "sent")
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    called = ("sql", "select count(*) as n from beds where specimen_id = 'new-x'", "--ndjson", "--package", str(package.root))
    run = gapbook(*called, "--beside", str(folder), TMPDIR=str(scratch))
    assert (run.returncode, json.loads(run.stdout)) == (0, {"n": 1}), run.stderr
    assert list(scratch.iterdir()) == []
    assert json.loads(gapbook(*called).stdout) == {"n": 0}


def test_own_playtests_count_in_relate(tmp_path):
    """Playtests of the demo's copies, sent by somebody else."""
    small = own()
    small.add("testers", tester_id="neele-strand", style="flat", own_frame="none")
    copies = open_catalogue(ROOT).sql("select specimen_id from beds order by 1 limit 12")["specimen_id"].to_pylist()
    for number, copy in enumerate(copies):
        row = {"played_on": "2026-05-01", "string_material": "polyester", "main_tension": 50, "cross_tension": 50}
        row |= {"tension_unit": "kg" if number == 0 else "lb", "launch_angle_deg": 10 + number / 10}
        row |= {"main_tension": 23, "cross_tension": 23} if number == 0 else {}
        small.add("playtests", playtest_id=f"neele-{number}", specimen_id=copy, tester_id="neele-strand", **row)
    called = ("relate", "openness_centre", "launch_angle_deg", "--json", "--package", str(ROOT))
    (alone,) = json.loads(gapbook(*called).stdout)["associations"]
    run = gapbook(*called, "--beside", str(sent(small, tmp_path / "sent")))
    (both,) = json.loads(run.stdout)["associations"]
    assert (both["testers"], both["playtests"]) == (alone["testers"] + 1, alone["playtests"] + 12)


def test_a_contribution_with_errors_is_not_joined(tmp_path):
    package, small = package_in(tmp_path / "package"), even_bed("new", "new-x")
    small.tables["spacings"][0]["value"] = "-3"
    folder = sent(small, tmp_path / "sent")
    with pytest.raises(GapbookError) as raised:
        open_catalogue(package.root, beside=folder)
    assert raised.value.problems[0].code == "not-sound"
    assert f"See gapbook check {folder}" in str(raised.value)
