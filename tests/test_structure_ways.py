"""The fast way of reading a file and the exact one see the same: where the first finds it clean, so does the second."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from gapbook.intake.structure.fault import Source
from gapbook.intake.structure.files import wrong_header
from gapbook.intake.structure.gate import clean
from gapbook.intake.structure.judging import Judge, typed
from gapbook.intake.structure.text import read_text
from gapbook.tables.opening import open_package
from structured import Broken

PIECES = (
    b'"', b'""', b'"x"', b'"x""y"', b',"', b'",', b"\r", b"\n", b"\r\n", b'"\n"', b" ", b"  ", b"\t", b",", b"NA", b"0", b"1",
    b"x", "é".encode(), b"'", b"\\", b".", b"e1", b"+", b"-", b"=", b"\x00", b"\xff",
)  # fmt: skip
TRIES = 60


def inserted(text: bytes, dice: random.Random) -> bytes:
    """A text with a piece put in or put over a few bytes, below its header."""
    at = dice.randrange(text.find(b"\n"), len(text) + 1)
    return text[:at] + dice.choice(PIECES) + text[at + dice.choice([0, 0, 1, 3]) :]


@pytest.mark.slow_after(1)
@pytest.mark.parametrize("table", ["testers", "specimens", "readings", "frames"])
def test_the_two_ways_agree(tmp_path: Path, table: str):
    dice = random.Random(table)
    broken, judge = Broken(tmp_path), Judge()
    source = Source(table, 0, broken.tables / f"{table}.csv", table, open_package(broken.root).schema(table))
    good = source.path.read_bytes()
    passed = refused = 0
    for _ in range(TRIES):
        text = inserted(good, dice)
        source.path.write_bytes(text)
        if wrong_header(source) is not None:
            continue
        fast = clean(source)
        exact = read_text(text, len(source.schema.fields))
        judged = judge.judge(source, exact)
        faults = exact.faults + judged.faults
        if fast is None:
            refused += 1
            continue
        passed += 1
        assert faults == [], text
        assert typed(exact.columns, source.schema).to_pylist() == fast.to_pylist(), text
        assert typed(exact.columns, source.schema).schema == fast.schema
    assert passed >= 3
    assert refused >= 10
