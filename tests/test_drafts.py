"""Outputs of several files are put in place whole, and what killed processes left beside them is removed by the next."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from gapbook.errors import GapbookError
from gapbook.pictures import sheet
from gapbook.tables.export import export
from gapbook.tables.files import drafting, replacing
from gapbook.tables.package import Package
from hostile import POSIX, gapbook

ROOT = Path(__file__).resolve().parents[1]
HOLDS = """
import sys, time
from pathlib import Path
from gapbook.tables.files import drafting, replacing
with drafting(Path(sys.argv[1])) as folder, replacing(Path(sys.argv[2])) as stream:
    (folder / "x").write_text("x")
    print("held", flush=True)
    time.sleep(60)
"""


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@POSIX
def test_what_a_killed_process_left_is_removed_and_what_another_writes_is_not(tmp_path):
    run = subprocess.Popen(
        [sys.executable, "-c", HOLDS, str(tmp_path / "folder"), str(tmp_path / "file")],
        env={**os.environ, "PYTHONPATH": str(ROOT / "derive")},
        stdout=subprocess.PIPE,
    )
    try:
        assert run.stdout.readline() == b"held\n"
        kept = names(tmp_path)
        assert len(kept) == 2
        with drafting(tmp_path / "other"), replacing(tmp_path / "another"):
            pass
        assert names(tmp_path) == sorted([*kept, "another"])
    finally:
        run.kill()
        run.communicate()
    with drafting(tmp_path / "other"):
        pass
    assert names(tmp_path) == ["another"]


def test_a_folder_of_another_name_and_a_link_stay(tmp_path):
    (tmp_path / ".gapbook-mine").mkdir()
    (tmp_path / ".gapbook-000000000000").symlink_to(tmp_path / ".gapbook-mine")
    with replacing(tmp_path / "x") as stream:
        stream.write(b"x")
    assert names(tmp_path) == [".gapbook-000000000000", ".gapbook-mine", "x"]


def test_an_error_leaves_nothing(tmp_path):
    def fails() -> None:
        with drafting(tmp_path / "x") as folder:
            (folder / "y").write_text("y", encoding="utf-8")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fails()
    assert names(tmp_path) == []


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), ZeroDivisionError(), KeyboardInterrupt()], ids=repr)
@pytest.mark.slow_after(1)
def test_a_sheet_that_fails_leaves_nothing_and_can_be_made_again(tmp_path, spoilt, monkeypatch, error):
    command = ("sheet", "one", "--out", tmp_path / "out" / "sheet.pdf", "--package", spoilt.root)
    (tmp_path / "out").mkdir()

    def fails(*_: object) -> None:
        raise error

    with monkeypatch.context() as patch:
        patch.setattr(sheet, "sheet", fails)
        assert gapbook(*command).status == {OSError: 2, ZeroDivisionError: 70, KeyboardInterrupt: 130}[type(error)]
    assert names(tmp_path / "out") == []
    assert gapbook(*command).status == 0
    assert names(tmp_path / "out") == ["sheet-csv", "sheet.pdf"]


def test_an_export_that_is_replaced_while_one_was_killed(tmp_path, spoilt: Package):
    left = tmp_path / ".gapbook-0123456789ab"
    left.mkdir()
    (left / "half").write_text("half", encoding="utf-8")
    export(spoilt, tmp_path / "out")
    assert ".gapbook-0123456789ab" not in names(tmp_path) or os.name == "nt"


OUT = {
    "draw": ["draw", "one", "--out", "x.svg"],
    "chart": ["chart", "head area", "centre mesh", "--out", "x.svg"],
    "sheet": ["sheet", "one", "--out", "x.pdf"],
    "compare": ["compare", "one", "two", "--out", "x.pdf"],
    "drill": ["drill", "--pattern", "16x19", "--head", "98 sq in", "--centre", "11", "--sides", "+12%", "--out", "x.svg"],
    "atlas": ["atlas", "--out", "x"],
    "export": ["export", "--out", "x"],
    "sql": ["sql", "select 1", "--parquet", "x.parquet"],
}


@pytest.mark.skipif(not hasattr(os, "geteuid") or not Path("/proc").is_dir(), reason="needs a folder that takes no file")
@pytest.mark.slow_after(2)
@pytest.mark.parametrize("command", OUT.values(), ids=OUT)
def test_a_folder_that_cannot_be_written_is_told(spoilt, command):
    """/proc takes no file, not even from the system's administrator."""
    run = gapbook(*command[:-1], f"/proc/{command[-1]}", "--package", spoilt.root)
    assert run.status == 2, run
    assert run.error.startswith("gapbook: ")
    assert "cannot be written" in run.error


def test_a_folder_that_is_a_file_is_told(tmp_path):
    (tmp_path / "x").write_text("", encoding="utf-8")
    with pytest.raises(GapbookError) as stop, drafting(tmp_path / "x" / "y"):
        pass
    assert stop.value.problems[0].code == "unwritable"
