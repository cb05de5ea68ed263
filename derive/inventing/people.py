"""The invented people of the rack, and what they measure with."""

from __future__ import annotations

from typing import NamedTuple

from gapbook.science.units import INCH

CONTRIBUTORS: tuple[tuple[str, str, str], ...] = (
    ("ilsa-quarrow", "Ilsa Quarrow", "2023-04-15"),
    ("tam-veldrick", "Tam Veldrick", "2023-04-15"),
    ("maud-tarrowby", "Maud Tarrowby", "2023-06-03"),
    ("jorun-pellick", "Jorun Pellick", "2023-09-20"),
    ("brenna-oss", "Brenna Oss", "2024-02-11"),
    ("edric-sallow", "Edric Sallow", "2024-08-30"),
    ("wen-arkady-holt", "Wen Arkady-Holt", "2025-03-08"),
)
"""contributor_id, name, since. All invented."""


class Instrument(NamedTuple):
    """What a reading is taken with: as in the table, and who keeps it and in what words they write its unit."""

    instrument_id: str
    kind: str
    resolution: str
    max_error: str
    unit: str
    keeper: str
    written: str

    @property
    def to_base(self) -> float:
        """Computing units (mm, cm2, g, kg.cm2) in one unit of the instrument."""
        return {"in": INCH, "oz": 28.349523125}.get(self.unit, 1.0)

    @property
    def step(self) -> float:
        """Smallest step in computing units."""
        return float(self.resolution) * self.to_base

    @property
    def limit(self) -> float:
        """Largest error in computing units."""
        return float(self.max_error) * self.to_base


INSTRUMENTS: tuple[Instrument, ...] = (
    Instrument("calliper-ilsa", "calliper", "0.01", "0.03", "mm", "ilsa-quarrow", "mm"),
    Instrument("calliper-tam", "calliper", "0.02", "0.04", "mm", "tam-veldrick", "mm"),
    Instrument("calliper-brenna", "calliper", "0.05", "0.05", "mm", "brenna-oss", "mm"),
    Instrument("calliper-edric", "calliper", "0.001", "0.0015", "in", "edric-sallow", "[in_i]"),
    Instrument("rule-maud", "rule", "0.5", "0.3", "mm", "maud-tarrowby", "mm"),
    Instrument("rule-tam", "rule", "0.5", "0.3", "mm", "tam-veldrick", "mm"),
    Instrument("rule-jorun", "rule", "0.03125", "0.015", "in", "jorun-pellick", "in"),
    Instrument("photo-wen", "photo", "0.01", "0.3", "mm", "wen-arkady-holt", "mm"),
    Instrument("scale-post", "scale", "0.1", "0.5", "g", "ilsa-quarrow", "g"),
    Instrument("scale-kitchen", "scale", "1", "2", "g", "maud-tarrowby", "g"),
    Instrument("scale-ounces", "scale", "0.05", "0.05", "oz", "jorun-pellick", "oz"),
    Instrument("board-tam", "balance_board", "0.5", "1", "mm", "tam-veldrick", "mm"),
    Instrument("board-jorun", "balance_board", "0.0625", "0.0625", "in", "jorun-pellick", "in"),
    Instrument("swing-weir", "swing_rig", "0.5", "1.5", "kg.cm2", "brenna-oss", "kg.cm2"),
    Instrument("swing-lathe", "swing_rig", "1", "2", "kg.cm2", "tam-veldrick", "kg cm2"),
    Instrument("planimeter-school", "planimeter", "0.5", "2", "cm2", "edric-sallow", "cm2"),
)
"""Every instrument, in the order of its table."""

INSTRUMENT_IDS = tuple(instrument.instrument_id for instrument in INSTRUMENTS)

TESTERS: tuple[tuple[str, str, str], ...] = (
    ("anneke", "flat", "Burdock 90, strung tight"),
    ("bas", "topspin", "Meadow 100"),
    ("corin", "mixed", "Fern 98"),
    ("dagny", "mixed", "Knoll 100"),
    ("eluned", "topspin", "Gorse 100"),
    ("ferro", "flat", "Tarn 95, the second of two"),
    ("gudrun", "mixed", "Combe 100 club"),
    ("hesper", "topspin", "Yarrow 100"),
    ("ivor", "mixed", "Willow 98"),
    ("jessamy", "flat", "Drumlin 98"),
    ("kester", "topspin", "Lichen 98, with a leather grip"),
    ("lowri", "mixed", "whatever hangs in the rack"),
)
"""Name, style, own frame. All invented."""

_ORIGINS = (
    "given by a member", "bought for the rack", "lent by the school", "left behind at an open day",
    "a maker's sample", "swapped for two older frames",
)  # fmt: skip
_HOMES = ("Thornay Weir", "Upper Lathe", "Brindle Cross", "Marrow Ford", "Saltstile")
_REMARKS = (
    "grommets new", "grip replaced", "hoop scuffed at the tip", "weights as sold", "paint chipped, hoop sound",
    "strings straightened by hand", "restrung for the reading", "buffer guard trimmed",
)  # fmt: skip


def note(number: int, read: bool) -> str:
    """What stands beside the `number`-th copy of the rack."""
    origin, home = _ORIGINS[number % len(_ORIGINS)], _HOMES[number % len(_HOMES)]
    if not read:
        return f"Invented copy, {origin}; hangs at {home}; out on loan on every rack evening, bed not read yet"
    return f"Invented copy, {origin}; hangs at {home}; {_REMARKS[number % len(_REMARKS)]}"
