"""Faults of whole beds that tell what went wrong: gaps read between strings, a rule's origin, exchanged sizes, the wrong
station, marks that run backwards, a number left out and the rest counted on.
"""

from __future__ import annotations

from collections.abc import Callable

from planting import Edit, Files, bom, cells, crlf, plant


def by(change: Callable[[float], float]) -> Callable[[str], str]:
    """A figure changed, with two decimals."""
    return lambda text: f"{change(float(text)):.2f}"


def shorter(copy: str, gauge: float, **more: str) -> list[Edit]:
    """The gaps of a copy that has its inner edges read as they are between the strings."""
    return [cells("spacings", "value", by(lambda value: value - gauge), specimen_id=copy, **more)]


def left_out(copy: str, family: str, number: int) -> Edit:
    """A number of every run of a family left out, and those after it counted on."""

    def edit(files: Files) -> None:
        lines = []
        for line in files.text("spacings").decode().split("\n"):
            row = line.split(",")
            if row[:2] == [copy, family]:
                if int(row[4]) == number:
                    continue
                row[4] = str(int(row[4]) - (int(row[4]) > number))
            lines.append(",".join(row))
        files.put("spacings", "\n".join(lines).encode())

    return edit


def exchanged(copy: str) -> list[Edit]:
    """Head width and head length of a copy the other way round."""
    steps = (("head_width", "x"), ("head_length", "head_width"), ("x", "head_length"))
    return [cells("readings", "quantity", new, specimen_id=copy, quantity=old) for old, new in steps]


def from_ten(family: str) -> Edit:
    """The first inner edge 10 mm before where it is, on a rule."""
    return cells("spacings", "value", by(lambda value: value - 10.0), specimen_id="nettle-97-a", no="0", family=family)


GAUGE = [
    plant("edge-to-edge", "every gap read between the strings", *shorter("fern-98-c", 1.30),
          table="spacings", at="fern-98-c,main,"),
    plant("edge-to-edge", "at three stations, in a spreadsheet's file", *shorter("dune-102-a", 1.25), crlf("spacings"),
          bom("spacings"), table="spacings", at="dune-102-a,main,"),
    plant("edge-to-edge", "every gap read over both strings", *shorter("fern-98-c", -1.30),
          table="spacings", at="fern-98-c,main,"),
    plant("sessions-disagree", "every gap between the strings in one session of two",
          *shorter("fern-95-a", 1.24, contributor_id="tam-veldrick"), table="spacings", at="fern-95-a,main,0,gap,0,tam-",
          column="value"),
]  # fmt: skip
ORIGIN = [
    plant("rule-origin", "width and length read with a rule whose zero is 10 mm from its end",
          *(cells("readings", "value", by(lambda value: value - 10.0), specimen_id="fern-98-c", quantity=quantity)
            for quantity in ("head_width", "head_length")),
          table="spacings", at="fern-98-c,main,"),
    plant("rule-origin", "mark 0 taken at the rule's end", from_ten("main"), from_ten("cross"), crlf("spacings"),
          table="spacings", at="nettle-97-a,main,"),
]  # fmt: skip
EXCHANGED = [
    plant("width-above-length", "width and length exchanged", *exchanged("scree-97-club-a"),
          table="readings", at="scree-97-club-a,head_width,", column="value"),
    plant("width-above-length", "the same read by two people, in a spreadsheet's file", *exchanged("fern-98-c"),
          crlf("readings"), bom("readings"), table="readings", at="fern-98-c,head_width,", column="value"),
]  # fmt: skip
STATIONS = [
    plant("station-misclosure", "a rule that lay 40 mm nearer", cells("spacings", "station_mm", "120",
          specimen_id="dune-102-a", station_mm="80"), table="spacings", at="dune-102-a,main,120,gap,0,", column="station_mm"),
    plant("station-misclosure", "an outermost gap 25 mm too wide, in a spreadsheet's file",
          cells("spacings", "value", by(lambda value: value + 25.0), specimen_id="dune-102-a", station_mm="-80", no="16"),
          crlf("spacings"), bom("spacings"), table="spacings", at="dune-102-a,main,-80,gap,0,", column="station_mm"),
]  # fmt: skip
BACKWARDS = [
    plant("reversed-marks", "a rule laid from the other end",
          cells("spacings", "value", by(lambda value: 400.0 - value), specimen_id="nettle-97-a"),
          table="spacings", at="nettle-97-a,main,0,mark,0,", column="value"),
    plant("reversed-marks", "the mains only, in a spreadsheet's file",
          cells("spacings", "value", by(lambda value: 300.0 - value), specimen_id="combe-107-a", family="main"),
          crlf("spacings"), bom("spacings"), table="spacings", at="combe-107-a,main,", column="value"),
]  # fmt: skip
COUNTED_ON = [
    plant("missing-numbers", "a gap left out and the rest counted on", left_out("fern-98-c", "main", 3),
          table="spacings", at="fern-98-c,main,0,gap,0,", column="no"),
    plant("missing-numbers", "a mark left out and the rest counted on, in two repeats", left_out("nettle-97-a", "cross", 9),
          table="spacings", at="nettle-97-a,cross,0,mark,0,", column="no"),
]  # fmt: skip
PLANTS = [*GAUGE, *ORIGIN, *EXCHANGED, *STATIONS, *BACKWARDS, *COUNTED_ON]
