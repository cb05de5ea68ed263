"""Faults in a contribution: files of it, rows that conflict with the catalogue, and faults that only show beside the catalogue.

It holds the copies fern-98-b and knoll-100-club-a with the latter's frame, and one more session of tarn-95-a.
"""

from __future__ import annotations

from planting import Files, Folder, Link, Plant, append, bom, cell, cells, crlf, drop, placed, plant, put, swap

TABLES = ("frames", "specimens", "spacings", "readings", "playtests", "contributors", "instruments", "testers")
DRAWN = "A drawing by gapbook drill: nobody read it off a frame"
CATALOGUE_READING = "fern-98-c,mass,true,ilsa-quarrow,scale-post,2023-06-10,1,"
CATALOGUE_GAP = "fern-98-c,main,0,gap,7,tam-veldrick,calliper-tam,2023-06-10,1,"


def own(code: str, name: str, *edits: object, table: str, at: str | int | None = None, column: str | None = None,
        **more: object) -> Plant:  # fmt: skip
    """A fault in a contribution."""
    return plant(code, name, *edits, table=table, at=at, column=column, own=True, **more)  # type: ignore[arg-type]


def nothing(files: Files) -> None:
    """Take every table out."""
    for table in TABLES:
        files.put(table, None)


FILES = [
    own("path", "a table that is a link into the catalogue", put("readings", Link("../catalogue/readings.csv")),
        table="readings"),
    own("path", "a table that is a link out of the folder", put("testers", Link("/etc/hostname")), table="testers"),
    own("path", "a link to nowhere beside the tables", put("notes.csv", Link("nowhere")), table="notes.csv"),
    own("path", "a link to a folder", put("photos.d", Link("/tmp")), table="photos.d"),
    own("missing-file", "no table at all", nothing, table=""),
    own("unknown-file", "a table in the singular", put("spacing.csv", b"specimen_id\n"), table="spacing.csv"),
    own("unknown-file", "a workbook", put("readings.xlsx", b"PK"), table="readings.xlsx"),
    own("unknown-file", "a folder of pictures", put("pictures.d", Folder()), table="pictures.d"),
    own("unreadable", "a quotation mark left open in a spreadsheet's file",
        swap("testers", 'proud of it"', "proud of it"), crlf("testers"), bom("testers"),
        table="testers", at="merle,"),
    own("encoding", "a name in Latin-1", swap("contributors", "Hanne", "Hänne".encode("latin-1")),
        table="contributors", at="hanne-brook,"),
    own("header", "a column for remarks, in a spreadsheet's file", swap("spacings", "value,unit\n", "value,unit,remark\n"),
        crlf("spacings"), bom("spacings"), table="spacings", at=1),
    own("width", "a comma too many in the last row", swap("playtests", "hit-398,", "hit-398,,"), table="playtests",
        at="hit-398,"),
]  # fmt: skip
CELLS = [
    own("required", "a gap left blank", cell("spacings", "knoll-100-club-a,cross,0,gap,18,", "value", "19.85", ""),
        table="spacings", at="knoll-100-club-a,cross,0,gap,18,", column="value"),
    own("type", "a day as a shop writes it, in a spreadsheet's file",
        cell("readings", "fern-98-b,mass,", "taken_on", "2024-08-01", "01.08.2024"), crlf("readings"), bom("readings"),
        table="readings", at="fern-98-b,mass,", column="taken_on"),
    own("limit", "a beam in inches", cell("frames", "knoll-100-club,", "beam_mm", "22.0", "0.87"),
        table="frames", at="knoll-100-club,", column="beam_mm"),
    own("too-long", "a name of 81 letters", cell("contributors", "hanne-brook,", "name", "Hanne Brook", "h" * 81),
        table="contributors", at="hanne-brook,", column="name"),
    own("unit-unknown", "a unit nobody knows", cell("instruments", "calliper-hanne,", "unit", "mm", "millimetric"),
        table="instruments", at="calliper-hanne,", column="unit"),
    own("unit-dimension", "a length on the scale's line", cell("readings", "knoll-100-club-a,mass,", "unit", "oz", "in"),
        table="readings", at="knoll-100-club-a,mass,", column="unit"),
    own("instrument-dimension", "a mass read with a board of the catalogue",
        cell("readings", "knoll-100-club-a,mass,", "instrument_id", "scale-ounces", "board-tam"),
        table="readings", at="knoll-100-club-a,mass,", column="instrument_id", beside="others-instrument",
        because="the board is somebody else's"),
    own("likely-unit", "a length in inches", cell("readings", "knoll-100-club-a,length,", "value", "686.0", "27.0"),
        table="readings", at="knoll-100-club-a,length,", column="value"),
]  # fmt: skip
CONFLICTS = [
    own("conflicting-key", "another value for a reading the catalogue has", append("readings", CATALOGUE_READING + "352.1,g"),
        table="readings", at=CATALOGUE_READING, column="value"),
    own("conflicting-key", "another unit for a gap the catalogue has", append("spacings", CATALOGUE_GAP + "10.54,cm"),
        table="spacings", at=CATALOGUE_GAP, column="unit"),
    own("conflicting-key", "a frame with another mass, in a spreadsheet's file",
        append("frames", "dune-102,Lathemoor,Dune 102,retail,2023,16,18,658.1,685,24.0,333,323,325,true"), crlf("frames"),
        bom("frames"),
        table="frames", at="dune-102,", column="mass_g"),
    own("conflicting-key", "an instrument that reads finer", append("instruments", "rule-tam,rule,0.25,0.3,mm"),
        table="instruments", at="rule-tam,", column="resolution"),
    own("conflicting-key", "a person who joined on another day",
        append("contributors", "tam-veldrick,Tam Veldrick,2022-04-15,"),
        table="contributors", at="tam-veldrick,", column="since"),
]  # fmt: skip
BETWEEN = [
    own("repeated-key", "a reading twice in the folder",
        append("readings", "knoll-100-club-a,mass,true,jorun-pellick,scale-ounces,2024-03-09,1,10.95,oz"),
        table="readings", at="knoll-100-club-a,mass,", nth=2, column="repeat"),
    own("reference", "its own specimen forgotten", drop("specimens", "fern-98-b,"),
        table="spacings", at="fern-98-b,", column="specimen_id"),
    own("reference", "a person misspelt in every row",
        cells("spacings", "contributor_id", "mavd-tarrowby", specimen_id="tarn-95-a"),
        table="spacings", at="tarn-95-a,", column="contributor_id"),
    own("missing-numbers", "a gap forgotten", drop("spacings", "knoll-100-club-a,main,0,gap,8,"),
        table="spacings", at="knoll-100-club-a,main,0,gap,1,", column="no"),
    own("gap-out-of-line", "two digits the other way round, in a spreadsheet's file",
        cell("spacings", "fern-98-b,cross,0,gap,8,", "value", "12.07", "21.07"), crlf("spacings"), bom("spacings"),
        table="spacings", at="fern-98-b,cross,0,gap,8,", column="value"),
    own("declared-area", "a head a tenth larger", *(
        cell("readings", f"fern-98-b,head_area,true,edric-sallow,planimeter-school,2024-08-30,{repeat},", "value", "633.5",
        "700.5")
        for repeat in (1, 2)), table="readings", at="fern-98-b,head_area,", column="value"),
    own("sessions-disagree", "a rule that slid along",
        cells("spacings", "value", lambda text: f"{round(float(text) * 1.04 * 2) / 2}", specimen_id="tarn-95-a"),
        table="spacings", at="tarn-95-a,main,", column="value"),
    own("same-spacings", "the figures of a copy in the catalogue", *placed(
        "knoll-100-club-a", "main",
        "16.80 15.70 14.80 12.60 12.75 11.40 11.15 11.20 10.00 11.65 12.90 12.60 14.35 15.60 16.80"),
        table="spacings", at="knoll-100-club-a,main,", column="specimen_id"),
    own("future-date", "a reading of tomorrow's", cells("spacings", "taken_on", "2027-03-09", specimen_id="knoll-100-club-a"),
        table="spacings", at="knoll-100-club-a,main,", column="taken_on"),
    own("before-joining", "somebody who joins after having read",
        cells("readings", "contributor_id", "hanne-brook", specimen_id="fern-98-b", quantity="mass"),
        table="readings", at="fern-98-b,mass,", column="taken_on", beside="others-instrument",
        because="the scale was the other person's"),
    own("exception-stale", "an exception for what nobody finds",
        put("exceptions", b"rule,row_key,reason,who,decided_on\nmirror,knoll-100-club-a/main,steps,hanne-brook,2026-11-01\n"),
        table="exceptions", at="mirror,", column="rule"),
]  # fmt: skip
WHOSE = [
    own("placeholder", "somebody called me", append("contributors", "me,Una Marsh,2026-10-01,"),
        table="contributors", at="me,", column="contributor_id"),
    own("placeholder", "a rule called mine, in a spreadsheet's file", append("instruments", "my-rule,rule,0.5,0.3,mm"),
        crlf("instruments"), bom("instruments"), table="instruments", at="my-rule,", column="instrument_id"),
    own("others-specimen", "the mass of a copy that three others read",
        append("readings", "fern-98-c,mass,true,jorun-pellick,scale-ounces,2024-08-02,1,11.45,oz"),
        table="readings", at="fern-98-c,mass,", column="specimen_id"),
    own("others-specimen", "the width of a copy that two others read",
        append("readings", "fern-98-club-b,head_width,true,maud-tarrowby,rule-maud,2025-11-10,1,244.0,mm"),
        table="readings", at="fern-98-club-b,head_width,", column="specimen_id"),
    own("drawing", "a copy that gapbook drill designed",
        swap("specimens", "Invented copy, bought for the rack; hangs at Upper Lathe; grip replaced", DRAWN),
        table="specimens", at="fern-98-b,", column="note"),
    own("others-instrument", "a mass from somebody else's scale",
        append("readings", "knoll-100-club-a,mass,true,jorun-pellick,scale-post,2024-03-09,1,310.6,g"),
        table="readings", at="knoll-100-club-a,mass,true,jorun-pellick,scale-post,", column="instrument_id"),
    own("others-instrument", "a width from somebody else's rule",
        append("readings", "fern-98-b,head_width,true,jorun-pellick,rule-maud,2024-08-01,1,242.5,mm"),
        table="readings", at="fern-98-b,head_width,true,jorun-pellick,rule-maud,", column="instrument_id"),
]  # fmt: skip
IDENTITIES = [
    own("orcid", "two digits the other way round", cell("contributors", "hanne-brook,", "orcid", "", "0000-0002-1825-0079"),
        table="contributors", at="hanne-brook,", column="orcid"),
    own("orcid", "a check digit for an X", cell("contributors", "hanne-brook,", "orcid", "", "0000-0002-1694-2338"),
        table="contributors", at="hanne-brook,", column="orcid"),
]  # fmt: skip
PLANTS = [*FILES, *CELLS, *CONFLICTS, *BETWEEN, *WHOSE, *IDENTITIES]

HARMLESS = [
    own("", "an ORCID of ORCID's own documentation",
        cell("contributors", "hanne-brook,", "orcid", "", "0000-0002-1694-233X"), table=""),
    own("", "rows that the catalogue has word for word", append("readings", CATALOGUE_READING + "325.1,g"),
        append("spacings", CATALOGUE_GAP + "10.54,mm"), table=""),
    own("", "the catalogue's own figures, written otherwise", append("readings", CATALOGUE_READING + "325.10,g"), table=""),
    own("", "no people, instruments and testers", *(put(table, None) for table in ("contributors", "instruments", "testers")),
        table=""),
    own("", "files as a spreadsheet saves them", *(edit(table) for table in TABLES for edit in (crlf, bom)), table=""),
]  # fmt: skip
