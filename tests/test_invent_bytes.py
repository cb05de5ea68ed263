"""The invented demo catalogue is repeatable to the byte, and unclear orders are refused."""

from __future__ import annotations

from pathlib import Path

import pytest

import invent
from demo_rows import RAW, ROOT
from inventing.tables import write_catalogue
from inventing.writing import decimal_text


def test_committed_catalogue_is_what_invent_makes(tmp_path, world):
    write_catalogue(world, ROOT / "schema", tmp_path)
    for table in RAW:
        made, kept = ((folder / f"{table}.csv").read_bytes() for folder in (tmp_path, ROOT / "catalogue"))
        assert made == kept, f"catalogue/{table}.csv is not what derive/invent.py makes"
    assert {path.name for path in tmp_path.iterdir()} == {f"{table}.csv" for table in RAW}


def test_same_seed_same_bytes_and_another_seed_other_bytes(tmp_path):
    for name, seed in (("one", 3), ("two", 3), ("three", 4)):
        invent.write_package(tmp_path / name, 30, seed)

    def files(name: str) -> dict[Path, bytes]:
        found = (path for path in (tmp_path / name).rglob("*") if path.is_file())
        return {path.relative_to(tmp_path / name): path.read_bytes() for path in found}

    one, two, three = (files(name) for name in ("one", "two", "three"))
    assert one == two
    spacings = Path("catalogue/spacings.csv")
    assert one[spacings] != three[spacings]


def test_decimal_text_has_no_floating_point_noise():
    # By hand: 137/32 = 4.28125; 1203 hundredths; 205/16 = 12.8125.
    assert decimal_text(137, "0.03125") == "4.28125"
    assert decimal_text(1203, "0.01") == "12.03"
    assert decimal_text(205, "0.0625") == "12.8125"
    assert decimal_text(7, "1") == "7"
    assert decimal_text(-7, "0.5") == "-3.5"


@pytest.mark.parametrize(
    ("argv", "word"),
    [
        (["--specimens", "500"], "--out"),
        (["--seed", "4"], "--out"),
        (["--specimens", "0", "--out", "somewhere"], "--specimens"),
        (["--seed", "-1", "--out", "somewhere"], "--seed"),
        (["--out", str(ROOT)], "empty folder"),
    ],
)
def test_unclear_orders_are_refused(argv, word, capsys):
    with pytest.raises(SystemExit) as stop:
        invent.main(argv)
    assert stop.value.code == 2
    assert word in capsys.readouterr().err


def test_a_folder_that_cannot_be_made_is_told_in_one_line(tmp_path, capsys):
    (tmp_path / "file").write_text("")
    with pytest.raises(SystemExit) as left:
        invent.main(["--specimens", "1", "--out", str(tmp_path / "file" / "package")])
    assert left.value.code == 2
    assert capsys.readouterr().err == f"invent.py: {tmp_path / 'file' / 'package'} cannot be written: Not a directory\n"


def test_what_to_run_next_is_told(tmp_path, capsys):
    invent.main(["--specimens", "1", "--out", str(tmp_path / "package")])
    assert capsys.readouterr().out == f"Run gapbook derive --package {tmp_path / 'package'}\n"
