"""Faults of whole readings: copied ones, made-up ones, copies that are another frame, people who read unsteadily."""

from __future__ import annotations

import random

from planting import Edit, Files, Plant, again, bom, cell, cells, crlf, placed, plant


def repeated(copy: str) -> Edit:
    """Every figure of repeat 2 of a copy that of repeat 1."""

    def edit(files: Files) -> None:
        rows = [line.split(",") for line in files.text("spacings").decode().split("\n")]
        first = {tuple(row[:8]): row[9] for row in rows if row[0] == copy and row[8] == "1"}
        for row in rows:
            if row[0] == copy and row[8] == "2":
                row[9] = first[tuple(row[:8])]
        files.put("spacings", "\n".join(map(",".join, rows)).encode())

    return edit


def mirrored(copy: str) -> Edit:
    """The gaps of the right half of a copy's mains those of the left half."""

    def edit(files: Files) -> None:
        rows = [line.split(",") for line in files.text("spacings").decode().split("\n")]
        values = {int(row[4]): row[9] for row in rows if row[:3] == [copy, "main", "0"]}
        both = min(values) + max(values)
        for row in rows:
            if row[:3] == [copy, "main", "0"] and 2 * int(row[4]) > both:
                row[9] = values[both - int(row[4])]
        files.put("spacings", "\n".join(map(",".join, rows)).encode())

    return edit


def unsteady(person: str, deviation: float, step: float) -> Edit:
    """What a person read with a calliper by so much less steadily, to its step [mm]."""

    def edit(files: Files) -> None:
        rng = random.Random(1)
        rows = [line.split(",") for line in files.text("spacings").decode().split("\n")]
        for row in rows:
            if len(row) > 1 and row[5] == person and row[6].startswith("calliper"):
                row[9] = f"{round((float(row[9]) + rng.gauss(0.0, deviation)) / step) * step:.2f}"
        files.put("spacings", "\n".join(map(",".join, rows)).encode())

    return edit


COPIED = [
    plant("same-session", "a second repeat copied from the first, gap by gap", repeated("fern-98-a"),
          table="spacings", at="fern-98-a,main,0,gap,0,ilsa-quarrow,calliper-ilsa,2023-12-18,2,", column="repeat"),
    plant("same-session", "a second laying of the rule copied, in a spreadsheet's file", repeated("nettle-97-a"),
          crlf("spacings"), bom("spacings"), table="spacings", column="repeat",
          at="nettle-97-a,main,0,mark,0,maud-tarrowby,rule-maud,2024-03-20,2,"),
    plant("same-session", "the same figures a week later",
          again("spacings", "fern-98-c,", (",2023-06-10,1,", ",2023-06-17,1,")),
          table="spacings", at="fern-98-c,main,0,gap,0,tam-veldrick,calliper-tam,2023-06-17,", column="taken_on"),
    plant("same-session", "the same figures by somebody else",
          again("spacings", "fern-98-c,", ("tam-veldrick", "ilsa-quarrow")),
          table="spacings", at="fern-98-c,main,0,gap,0,ilsa-quarrow,", column="contributor_id"),
]  # fmt: skip
SMOOTH = " ".join(f"{round(505.0 + 361.0 * ((number - 8) / 7) ** 2) / 50:.2f}" for number in range(1, 16))
"""Gaps of 10.1 to 17.3 mm along a parabola, to the fiftieth of a millimetre."""
MADE = [
    plant("too-regular", "the right half copied from the left", mirrored("fern-98-c"), table="spacings", at="fern-98-c,main,"),
    plant("too-regular", "the same without edges, in a spreadsheet's file", mirrored("knoll-100-club-a"), crlf("spacings"),
          bom("spacings"), table="spacings", at="knoll-100-club-a,main,"),
    plant("too-regular", "mains from a formula", *placed("fern-98-c", "main", SMOOTH), table="spacings", at="fern-98-c,main,"),
]  # fmt: skip
OTHERS = [
    plant("copies-differ", "a copy filed under a frame with the same counts",
          cell("specimens", "fern-100-b,", "frame_id", "fern-100", "moraine-98"),
          table="spacings", at="fern-100-b,main,"),
    plant("copies-differ", "one of two copies under another frame, in a spreadsheet's file",
          cell("specimens", "fern-100-b,", "frame_id", "fern-100", "thistle-95"), crlf("specimens"), bom("specimens"),
          table="spacings", at="fern-100-b,main,"),
]  # fmt: skip
UNSTEADY = [
    plant("unsteady-person", "somebody who reads to half a millimetre, each bed once", unsteady("brenna-oss", 0.6, 0.05),
          table="contributors", at="brenna-oss,", column="contributor_id"),
    plant("unsteady-person", "somebody whose repeats scatter by twice as much, in a spreadsheet's file",
          unsteady("tam-veldrick", 0.3, 0.02), crlf("contributors"), bom("contributors"),
          table="contributors", at="tam-veldrick,", column="contributor_id"),
]  # fmt: skip
PLANTS: list[Plant] = [*COPIED, *MADE, *OTHERS, *UNSTEADY]

HARMLESS = [
    plant("", "a repeat that is the first again but for one figure in five", repeated("fern-98-a"),
          cells("spacings", "value", lambda text: f"{float(text) + 0.03:.2f}", specimen_id="fern-98-a", repeat="2", no="5"),
          cells("spacings", "value", lambda text: f"{float(text) + 0.02:.2f}", specimen_id="fern-98-a", repeat="2", no="9"),
          table=""),
]  # fmt: skip
