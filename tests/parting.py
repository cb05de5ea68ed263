"""A clean contribution, and the package it is meant for: part of the demo taken out by its bytes."""

from __future__ import annotations

from planting import CATALOGUE, CONTRIBUTION

COPIES = ("fern-98-b", "knoll-100-club-a")
SESSION = (b"tarn-95-a,", b",maud-tarrowby,rule-maud,")
"""What of the demo makes a contribution: two copies with all that is said of them, the frame of one of them, and one more
session of a copy that the catalogue has.
"""
NEWCOMERS = {
    "contributors": "contributor_id,name,since,orcid\nhanne-brook,Hanne Brook,2026-10-01,\n",
    "instruments": "instrument_id,kind,resolution,max_error,unit\ncalliper-hanne,calliper,0.01,0.03,mm\n",
    "testers": 'tester_id,style,own_frame\nmerle,flat,"none, and proud of it"\n',
}
"""Somebody who joins with it."""


def parted(whole_catalogue: dict[str, bytes]) -> dict[str, bytes]:
    """A package without some rows of the demo, and the contribution they make, by path."""
    starts = {
        "frames": (b"knoll-100-club,",),
        **{table: tuple(f"{copy},".encode() for copy in COPIES) for table in ("specimens", "spacings", "readings")},
    }
    base = dict(whole_catalogue)
    for table in ("frames", "specimens", "spacings", "readings", "playtests"):
        path = f"{CATALOGUE}/{table}.csv"
        header, *rows = base[path].splitlines(keepends=True)
        own = [_is_own(row, starts.get(table)) for row in rows]
        assert any(own), table
        for folder, wanted in ((CATALOGUE, False), (CONTRIBUTION, True)):
            kept = [row for row, mine in zip(rows, own, strict=True) if mine is wanted]
            base[f"{folder}/{table}.csv"] = b"".join([header, *kept])
    return base | {f"{CONTRIBUTION}/{table}.csv": text.encode() for table, text in NEWCOMERS.items()}


def _is_own(row: bytes, starts: tuple[bytes, ...] | None) -> bool:
    """Whether a row goes into the contribution; a playtest by the copy it names."""
    if starts is None:
        return row.split(b",")[1].decode() in COPIES
    return row.startswith(starts) or (row.startswith(SESSION[0]) and SESSION[1] in row and b"mark" in row)
