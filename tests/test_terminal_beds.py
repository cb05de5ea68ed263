"""Beds drawn in characters: at one scale side by side, and the same bed at every width."""

from __future__ import annotations

import pytest

from demo_rows import ROOT
from gapbook.pictures import terminal
from gapbook.questions.bed_data import drawn_bed
from gapbook.science.bed_geometry import Hoop
from gapbook.tables.opening import open_package
from gapbook.tables.store import Store


@pytest.fixture(scope="module")
def store():
    return Store(open_package(ROOT))


def test_beds_stand_side_by_side_at_one_scale_where_there_is_room():
    narrow = terminal.Bed("narrow", [-20, 0, 20], [0, 0, 0], [20, 0, -20], Hoop(200, 266, 2.0))
    wide = narrow._replace(name="wide", hoop=Hoop(250, 333, 2.0))
    lines = terminal.side_by_side([narrow, wide], 80)
    assert max(map(len, lines)) <= 80
    assert "narrow" in lines[0]
    assert "wide" in lines[0]
    # One scale: 38 columns or 76 dots for 250 mm, so 200 mm fill 1 + 75·200/250 = 61 dots, 31 columns.
    left = [line[:31].rstrip() for line in lines]
    assert max(map(len, left)) == 31
    assert all(line[31:38].strip() == "" for line in lines[1:-2])
    assert terminal.side_by_side([narrow, wide], 60) == []
    assert terminal.side_by_side([narrow], 200) == []


@pytest.mark.parametrize("name", ["fern-98", "burdock-89", "yarrow-105"])
@pytest.mark.parametrize("columns", [34, 41, 53])
def test_a_bed_in_characters_is_the_same_bed_at_every_width(store, name, columns):
    """Every string has a dot of its own along the middle lines, half a dot from its place at most; dots are read back from the
    characters by the definition of braille patterns in Unicode: bits 1, 2, 3 and 7 are the left column, 4, 5, 6, 8 the right.
    """
    drawn = drawn_bed(store, name)
    bed = terminal.Bed(name, *(line.tolist() for line in drawn.strings), drawn.hoop)
    lines = terminal.alone(bed, columns)
    bits = {0: (0, 0), 1: (0, 1), 2: (0, 2), 3: (1, 0), 4: (1, 1), 5: (1, 2), 6: (0, 3), 7: (1, 3)}
    dots = {
        (2 * column + bits[bit][0], 4 * row + bits[bit][1])
        for row, line in enumerate(lines)
        for column, sign in enumerate(line)
        if 0x2800 <= ord(sign) < 0x2900
        for bit in bits
        if (ord(sign) - 0x2800) >> bit & 1
    }
    step = drawn.hoop.width / (2 * columns - 1)
    high = int(drawn.hoop.length / step + 0.5)
    y = [drawn.hoop.length / 2 - row * drawn.hoop.length / high for row in range(high + 1)]
    empty = next(row for row in range(high // 2, high) if min(abs(y[row] - cross) for cross in bed.crosses) > step)
    across = sorted(column for column, row in dots if row == empty)
    mains = [x + slope * y[empty] for x, slope in zip(bed.mains, bed.slopes, strict=True)]
    assert len(across) == len(mains) + 2  # and the hoop
    for column, x in zip(across[1:-1], mains, strict=True):
        assert column * step - drawn.hoop.width / 2 == pytest.approx(x, abs=step / 2 + 1e-9)
    between = next(
        c for c in range(columns, 2 * columns) if min(abs(c * step - drawn.hoop.width / 2 - x) for x in mains) > step
    )
    along = sorted(row for column, row in dots if column == between)
    assert len(along) == len(bed.crosses) + 2
    for row, cross in zip(along[1:-1], bed.crosses, strict=True):
        assert y[row] == pytest.approx(cross, abs=drawn.hoop.length / high / 2 + 1e-9)
    assert max(map(len, lines)) <= max(columns, 60)
