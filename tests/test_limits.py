"""Cells that the schema forbids: `sql` and `relate` say so, and `relate` leaves them out."""

from __future__ import annotations

import shutil
import warnings

import pytest

from gapbook import open_catalogue
from gapbook.tables.limits import CellsNotAllowed
from running import gapbook
from small import ROOT

# What a schema allows is in schema/playtests.json: launch angles up to 60, materials of a list, tensions up to 400.
FORBIDDEN = [
    ("launch_angle_deg", "1200", "openness_centre", "launch_angle_deg"),
    ("main_tension", "5000", "mean_tension_n", "comfort_vs_own"),
    ("lift_vs_own", "30", "openness_centre", "lift_vs_own"),
]


def spoiled(tmp_path, column, value):
    """The demo with this value in the column's first row that has one."""
    folder = tmp_path / "package"
    folder.mkdir()
    for name in ("datapackage.json", "catalogue", "schema"):
        source = ROOT / name
        (shutil.copytree if source.is_dir() else shutil.copy)(source, folder / name)
    path = folder / "catalogue" / "playtests.csv"
    header, *rows = path.read_text(encoding="utf-8").splitlines()
    place = header.split(",").index(column)
    number = next(number for number, row in enumerate(rows) if row.split(",")[place])
    cells = rows[number].split(",")
    cells[place] = value
    rows[number] = ",".join(cells)
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return folder


@pytest.mark.parametrize(("column", "value", "trait", "outcome"), FORBIDDEN)
def test_relate_leaves_the_row_out_and_says_so(tmp_path, column, value, trait, outcome):
    (sound,) = open_catalogue(ROOT).relate(trait, outcome).associations
    with pytest.warns(CellsNotAllowed, match=f"{column}: 1, such as {value}.*run gapbook check"):
        (found,) = open_catalogue(spoiled(tmp_path, column, value)).relate(trait, outcome).associations
    assert found.not_used.not_allowed == 1
    assert found.playtests == sound.playtests - 1
    assert found.verdict == sound.verdict
    assert found.slope == pytest.approx(sound.slope, rel=0.03)


def test_the_command_says_how_many_were_used_and_why_others_fell_out(tmp_path):
    folder = str(spoiled(tmp_path, "launch_angle_deg", "1200"))
    run = gapbook("relate", "openness_centre", "launch_angle_deg", "--package", folder)
    assert run.returncode == 0
    text = " ".join(run.stdout.split())
    assert "410 playtests of 432" in text
    assert "1 forbidden by the schema (gapbook check), 21 blank" in text
    assert "launch_angle_deg: 1, such as 1200.0 (expected a number" in run.stderr
    assert "run gapbook check" in run.stderr
    assert run.stderr.count("such as") == 1  # once, however often the table is asked


def test_sql_warns_and_answers(tmp_path):
    folder = str(spoiled(tmp_path, "launch_angle_deg", "1200"))
    run = gapbook("sql", "select max(launch_angle_deg) as most from playtests", "--csv", "--package", folder)
    assert (run.returncode, run.stdout) == (0, "most\n1200\n")
    assert "run gapbook check" in run.stderr
    assert "limits.py" not in run.stderr


def test_a_sound_package_is_not_warned_of():
    with warnings.catch_warnings():
        warnings.simplefilter("error", CellsNotAllowed)
        open_catalogue(ROOT).sql("select count(*) from playtests_with_beds")


def test_a_material_that_is_not_on_the_list(tmp_path):
    folder = spoiled(tmp_path, "string_material", "gold")
    with pytest.warns(CellsNotAllowed, match="string_material: 1, such as gold"):
        (found,) = open_catalogue(folder).relate("openness_centre", "spin_rpm", ["string_material"]).associations
    assert found.not_used.not_allowed == 1
