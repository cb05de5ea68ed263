"""How copies are read: every copy's bed gets the next of these plans, so that any number of them has the same mix."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from inventing.people import CONTRIBUTORS, INSTRUMENT_IDS, INSTRUMENTS

_DAY_ONE = {name: np.datetime64(since) for name, _, since in CONTRIBUTORS}
_LAST_DAY = np.datetime64("2026-10-20")


class Session(NamedTuple):
    """One person, one instrument, one day. `after` counts the days since the copy's first session."""

    instrument: str
    stations: tuple[int, ...] = (0,)
    repeats: int = 1
    edges: bool = True
    after: int = 0
    families: tuple[str, ...] = ("main", "cross")


_ALONG = (-80, 0, 80)

PROTOCOLS: tuple[tuple[Session, ...], ...] = (
    (Session("calliper-ilsa", repeats=2),),
    (Session("calliper-ilsa", _ALONG),),
    (Session("calliper-tam"),),
    (Session("rule-maud", repeats=3),),
    (Session("rule-jorun", repeats=2),),
    (Session("calliper-tam", (0, 80), repeats=2),),
    (Session("calliper-brenna", edges=False),),
    (Session("calliper-ilsa"), Session("calliper-tam")),
    (Session("rule-maud", (0, 80), repeats=2),),
    (Session("calliper-edric"),),
    (Session("photo-wen", _ALONG),),
    (Session("calliper-ilsa"),),
    (Session("rule-jorun", _ALONG),),
    (Session("calliper-brenna", (0, 80)),),
    (Session("calliper-tam", repeats=2), Session("rule-maud", repeats=2, after=14)),
    (Session("rule-maud", edges=False),),
    (Session("calliper-ilsa", repeats=2),),
    (Session("calliper-tam", _ALONG, repeats=2),),
    (Session("calliper-edric", repeats=2, edges=False),),
    (Session("rule-jorun"),),
    (Session("calliper-ilsa", _ALONG), Session("calliper-ilsa", _ALONG, after=21)),
    (Session("photo-wen", repeats=2),),
    (
        Session("calliper-brenna", (0, 80), families=("main",)),
        Session("rule-tam", after=1, families=("cross",)),
    ),
    (Session("calliper-tam"),),
    (Session("rule-maud", repeats=2),),
    (Session("rule-jorun"), Session("photo-wen", after=7)),
)
"""Every plan, most of one session."""


class Runs(NamedTuple):
    """Every laying of an instrument along a family of strings: arrays of one length, in the catalogue's order.

    `copy` is the row of the specimen, `instrument` that of INSTRUMENTS; `main` is True for mains.
    """

    copy: np.ndarray
    instrument: np.ndarray
    day: np.ndarray
    main: np.ndarray
    station: np.ndarray
    repeat: np.ndarray
    edges: np.ndarray


def first_days(rng: np.random.RandomState, plans: np.ndarray, released: np.ndarray) -> np.ndarray:
    """The day each copy is first read: never before it was `released` and all who read it by its plan have joined."""
    keepers = {instrument.instrument_id: instrument.keeper for instrument in INSTRUMENTS}
    earliest = np.array([max(_DAY_ONE[keepers[session.instrument]] for session in plan) for plan in PROTOCOLS])
    start = np.maximum(earliest[plans], released)
    room = (_LAST_DAY - start).astype(int)
    return start + np.floor(rng.random_sample(len(plans)) * room).astype("timedelta64[D]")


def lay_runs(copies: np.ndarray, plans: np.ndarray, days: np.ndarray) -> Runs:
    """The runs of `copies` (rows of specimens), each read by its plan from its first day on."""
    parts: list[tuple[np.ndarray, ...]] = []
    for number, plan in enumerate(PROTOCOLS):
        chosen = np.flatnonzero(plans == number)
        for order, session in enumerate(plan):
            day = days[chosen] + np.timedelta64(session.after, "D")
            tool = INSTRUMENT_IDS.index(session.instrument)
            for family in session.families:
                for station in session.stations if family == "main" else (0,):
                    for repeat in range(1, session.repeats + 1):
                        same = [np.full(len(chosen), value) for value in
                                (tool, family == "main", station, repeat, session.edges, order)]  # fmt: skip
                        parts.append((copies[chosen], day, *same))
    columns = [np.concatenate(column) for column in zip(*parts, strict=True)]
    copy, day, tool, main, station, repeat, edges, order = columns
    rows = np.lexsort((repeat, station, ~main, order, copy))
    return Runs(*(column[rows] for column in (copy, tool, day, main, station, repeat, edges)))
