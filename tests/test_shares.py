"""A table of spacings cut into stretches, and what several shares of it add up to."""

from __future__ import annotations

import numpy as np
import pytest

from gapbook.tables import shares


def rows(*specimens: str) -> bytes:
    return b"specimen_id,value\n" + b"".join(f"{name},{place}\n".encode() for place, name in enumerate(specimens))


CUT = {
    "nothing": (b"specimen_id,value\n", 20),
    "one row": (rows("fern-98-a"), 20),
    "few rows of many specimens": (rows(*(f"fern-{number}" for number in range(40))), 60),
    "many rows of few specimens": (rows(*["fern-98-a"] * 30, *["moss-98-a"] * 30), 60),
    "one specimen": (rows(*["fern-98-a"] * 60), 60),
    "no line end at the end": (rows(*["fern-98-a"] * 30, *["moss-98-a"] * 30)[:-1], 60),
    "more of one than is looked at first": (
        rows(*["a"] * 20, *["moss-98-a"] * 90, *(f"b-{number}" for number in range(60))),
        200,
    ),
    "a name that starts another": (rows(*["fern-98"] * 10, *["fern-98-a"] * 10, *["fern-98-ab"] * 10), 60),
}


@pytest.mark.parametrize(("content", "length"), CUT.values(), ids=CUT)
def test_stretches_are_whole_lines_of_whole_specimens(tmp_path, monkeypatch, content, length):
    monkeypatch.setattr(shares, "STRETCH", length)
    monkeypatch.setattr(shares, "_AHEAD", 40)
    path = tmp_path / "spacings.csv"
    path.write_bytes(content)
    cut = shares.stretches(path)
    parts = [content[start:stop] for start, stop in cut]
    assert b"".join(parts) == content.partition(b"\n")[2]
    assert all(part.endswith(b"\n") for part in parts[:-1])
    assert all(parts)
    names = [{line.partition(b",")[0] for line in part.splitlines()} for part in parts]
    assert sum(map(len, names)) == len(set().union(*names))
    together = max((content.count(name + b",") * (len(name) + 4) for name in set().union(*names)), default=0)
    assert all(len(part) <= length + together + len(b"fern-98-ab,99\n") for part in parts)  # no longer than need be


def test_repeatability_is_the_same_however_it_is_shared():
    def averaged(squares: list[float], freedom: list[int]) -> shares.Averaged:
        return shares.Averaged([], np.array(squares), np.array(freedom))

    one, two, three = averaged([0.1, 1e16], [20, 30]), averaged([0.2, 1.0], [10, 5]), averaged([0.3, -1e16], [10, 5])
    whole = shares.deviation_of([[one, two, three]])
    apart = shares.deviation_of([[three, one], [two]])
    assert list(whole) == list(apart)
    # By hand: √(0.6/40), √(1/40), where plain addition from the left loses the 1.
    assert list(whole) == pytest.approx([(0.6 / 40) ** 0.5, (1 / 40) ** 0.5], rel=1e-12)


def test_a_specimen_in_two_stretches_or_unknown_is_seen():
    def ids(*names: str) -> shares.Averaged:
        return shares.Averaged(list(names), np.zeros(2), np.zeros(2, dtype=np.int64))

    number = {"a": 4, "b": 0, "c": 2}
    found = shares.numbers_of([[ids("a"), ids("b")], [ids("c")]], number)
    assert [[list(part) for part in share] for share in found] == [[[4], [0]], [[2]]]
    assert shares.numbers_of([[ids("a"), ids("b")], [ids("a")]], number) is None
    assert shares.numbers_of([[ids("a", "b")], [ids("d")]], number) is None
