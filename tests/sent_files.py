"""Files as strangers send them, and the rows that a contribution made of each must have, written down by hand.

Frames, people and instruments that stand in no file are those of the package that comes with gapbook.
"""

from __future__ import annotations

import datetime
import io
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

DAY = datetime.datetime(2026, 4, 3)
ILSA = {"contributor": "ilsa-quarrow", "instrument": "calliper-ilsa"}
"""Who reads, and with what, if the file does not say it; both are known."""


@dataclass(frozen=True)
class Case:
    """One delivery.

    name: of the test.
    files: content by name.
    expected: by table, its rows as CSV has them.
    wishes: what is said on the command line.
    guesses: words that stand in what is told of guesses.
    mapping: the file that names columns, as text.
    """

    name: str
    files: dict[str, bytes]
    expected: dict[str, list[str]]
    wishes: dict[str, str] = field(default_factory=dict)
    guesses: tuple[str, ...] = ()
    mapping: str = ""


def xlsx(**sheets: Sequence[Sequence[object]]) -> bytes:
    """A workbook with these rows in its sheets."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def ods(**sheets: Sequence[Sequence[object]]) -> bytes:
    """The same as OpenDocument 1.3 has it."""
    spaces = " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"' for name in ("office", "table", "text")
    )
    tables = "".join(
        f"<table:table table:name={quoteattr(name)}>"
        + "".join(f"<table:table-row>{''.join(map(_ods_cell, row))}</table:table-row>" for row in rows)
        + "</table:table>"
        for name, rows in sheets.items()
    )
    body = f"<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body>"
    content = f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {spaces}>{body}</office:document-content>'
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    entry = '<manifest:file-entry manifest:full-path="{}" manifest:media-type="{}"/>'
    manifest = (
        '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        + entry.format("/", kind)
        + entry.format("content.xml", "text/xml")
        + "</manifest:manifest>"
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("mimetype", kind)
        archive.writestr("META-INF/manifest.xml", manifest)
        archive.writestr("content.xml", content)
    return out.getvalue()


def _ods_cell(value: object) -> str:
    if value is None:
        return "<table:table-cell/>"
    shown = f"<text:p>{escape(str(value))}</text:p>"
    if isinstance(value, datetime.date):
        day = f"{value:%Y-%m-%d}"
        return f'<table:table-cell office:value-type="date" office:date-value="{day}">{shown}</table:table-cell>'
    if isinstance(value, (int, float)):
        return f'<table:table-cell office:value-type="float" office:value="{value}">{shown}</table:table-cell>'
    return f'<table:table-cell office:value-type="string">{shown}</table:table-cell>'


def _text(*lines: str, encoding: str = "utf-8", end: str = "\n") -> bytes:
    return "".join(line + end for line in lines).encode(encoding)


def _gaps(copy: str, family: str, values: str, kind: str = "gap", first: int = 1, **more: str) -> list[str]:
    """Rows of spacings.csv: the values one after the other, numbered from `first`."""
    told = {
        "station": "0",
        "who": "ilsa-quarrow",
        "tool": "calliper-ilsa",
        "day": "2026-04-03",
        "repeat": "1",
        "unit": "mm",
    } | more
    return [
        f"{copy},{family},{told['station']},{kind},{no},{told['who']},{told['tool']},{told['day']},{told['repeat']},{value},{told['unit']}"
        for no, value in enumerate(values.split(), first)
    ]


HEADER = "specimen_id,family,station_mm,kind,no,contributor_id,instrument_id,taken_on,repeat,value,unit"
GERMAN = """
[columns]
"Rahmen" = "specimen_id"
"Schläger" = "specimen_id"
"Bespannung" = "family"
"Abstand" = "gap"
"Gemessen am" = "taken_on"
"Gewicht" = "mass"
"Bemerkung" = ""
[words]
"längs" = "main"
"quer" = "cross"
[units]
"Gramm" = "g"
"""
FRENCH = """
[columns]
"Cadre" = "specimen_id"
"Cordes" = "family"
"Écart n°" = "gap"
"Mesure" = "value"
"Relevé le" = "taken_on"
"Unité" = "unit"
[words]
"montants" = "main"
"travers" = "cross"
"""
SPANISH = """
[columns]
"raqueta" = "specimen_id"
"verticales" = "main gap"
"horizontales" = "cross gap"
"fecha" = "taken_on"
[given]
contributor = "ilsa-quarrow"
instrument = "calliper-ilsa"
unit = "mm"
"""

CASES = [
    Case(
        "exact rows, as gapbook writes them",
        {"spacings.csv": _text(HEADER, *_gaps("fern-98-a", "main", "10.0 11.20"))},
        {"spacings": _gaps("fern-98-a", "main", "10.0 11.20")},
    ),
    Case(
        "semicolons, decimal commas, a byte-order mark, columns in another order",
        {
            "messungen.csv": _text(
                "\ufeffvalue (mm);no;family;kind;specimen_id;taken_on",
                "10,25;1;main;gap;fern-98-a;2026-04-03",
                "11,5;2;main;gap;fern-98-a;2026-04-03",
                end="\r\n",
            )
        },
        {"spacings": _gaps("fern-98-a", "main", "10.25 11.5")},
        ILSA,
        ("decimal comma", "station_mm"),
    ),
    Case(
        "tabs, English words for the columns, mains and crosses by other words",
        {
            "readings.tsv": _text(
                "Copy\tStrings\tGap no.\tReading\tUnits\tDate",
                "fern-98-a\tMains\t1\t10.1\tmm\t25/03/2026",
                "fern-98-a\tcrosses\t1\t12.4\tmm\t03/04/2026",
            )
        },
        {
            "spacings": [
                *_gaps("fern-98-a", "main", "10.1", day="2026-03-25"),
                *_gaps("fern-98-a", "cross", "12.4", day="2026-04-03"),
            ]
        },
        ILSA,
        ("day first", "Copy", "Strings", "Reading", "Date"),
    ),
    Case(
        "cp1252 and a note with letters of it",
        {
            "specimens.csv": _text(
                "specimen_id,frame_id,string_gauge_mm,note", "fern-98-ada,fern-98,1.25,geölt – neu", encoding="cp1252"
            )
        },
        {"specimens": ["fern-98-ada,fern-98,1.25,geölt – neu"]},
        {},
        ("cp1252",),
    ),
    Case(
        "title rows above, one row a bed, gap 1, gap 2",
        {
            "club night.xlsx": xlsx(
                Sheet1=[
                    ["Measuring evening"],
                    ["all with a calliper, in mm"],
                    [],
                    ["Specimen", "Date", "Main gap 1", "Main gap 2", "Main gap 3", "Cross gap 1", "Cross gap 2"],
                    ["fern-98-a", DAY, 10.5, 10.25, 9.75, 12.5, 12],
                    ["fern-98-b", DAY, 10.6, None, 9.8, 12.6, 12.1],
                ]
            )
        },
        {
            "spacings": [
                *_gaps("fern-98-a", "main", "10.5 10.25 9.75"),
                *_gaps("fern-98-a", "cross", "12.5 12"),
                *_gaps("fern-98-b", "main", "10.6"),
                *_gaps("fern-98-b", "main", "9.8", first=3),
                *_gaps("fern-98-b", "cross", "12.6 12.1"),
            ]
        },
        {**ILSA, "unit": "mm"},
        ("Measuring evening",),
    ),
    Case(
        "one column a string, running marks, edges at both ends",
        {
            "marks.xlsx": xlsx(
                rule=[
                    [
                        "Specimen",
                        "Family",
                        "Station (mm)",
                        "Date",
                        "left edge",
                        "String 1",
                        "String 2",
                        "String 3",
                        "right edge",
                    ],
                    ["fern-98-a", "main", 0, DAY, 5, 16.5, 28, 39, 51],
                    ["fern-98-a", "main", 80, DAY, 5, 17.5, 30, 41.5, 54],
                ]
            )
        },
        {
            "spacings": [
                *_gaps("fern-98-a", "main", "5 16.5 28 39 51", "mark", 0, tool="rule-tam"),
                *_gaps("fern-98-a", "main", "5 17.5 30 41.5 54", "mark", 0, tool="rule-tam", station="80"),
            ]
        },
        {"contributor": "ilsa-quarrow", "instrument": "rule-tam", "unit": "mm"},
        ("mark",),
    ),
    Case(
        "gaps down the page, a column for mains and one for crosses",
        {"bed.csv": _text("gap,mains (mm),crosses (mm)", "1,10.5,12.5", "2,10.25,12", "3,,11.75")},
        {
            "spacings": [
                *_gaps("fern-98-a", "main", "10.5"),
                *_gaps("fern-98-a", "cross", "12.5"),
                *_gaps("fern-98-a", "main", "10.25", first=2),
                *_gaps("fern-98-a", "cross", "12 11.75", first=2),
            ]
        },
        {**ILSA, "specimen": "fern-98-a", "on": "2026-04-03"},
    ),
    Case(
        "German names by a mapping file",
        {
            "liste.csv": _text(
                "Rahmen;Bespannung;Gemessen am;Abstand 1 (mm);Abstand 2 (mm);Gewicht;Bemerkung",
                "fern-98-a;längs;13.4.2026;10,5;10,25;324,5 Gramm;gut",
                "fern-98-a;quer;13.4.2026;12,5;12;;",
                encoding="cp1252",
            )
        },
        {
            "spacings": [
                *_gaps("fern-98-a", "main", "10.5 10.25", day="2026-04-13"),
                *_gaps("fern-98-a", "cross", "12.5 12", day="2026-04-13"),
            ],
            "readings": ["fern-98-a,mass,true,ilsa-quarrow,scale-ilsa-quarrow,2026-04-13,1,324.5,g"],
            "instruments": ["scale-ilsa-quarrow,scale,1,2,g"],
        },
        {**ILSA, "strung": "true"},
        ("decimal comma", "scale-ilsa-quarrow"),
        GERMAN,
    ),
    Case(
        "French names in an ods, with its dates",
        {
            "relevés.ods": ods(
                Feuille1=[
                    ["Cadre", "Cordes", "Écart n°", "Mesure", "Unité", "Relevé le"],
                    ["fern-98-a", "montants", 1, 10.5, "mm", datetime.date(2026, 4, 3)],
                    ["fern-98-a", "travers", 1, 12.25, "mm", datetime.date(2026, 4, 3)],
                ]
            )
        },
        {"spacings": [*_gaps("fern-98-a", "main", "10.5"), *_gaps("fern-98-a", "cross", "12.25")]},
        ILSA,
        (),
        FRENCH,
    ),
    Case(
        "Spanish names, and what the mapping file gives for all rows",
        {"medidas.csv": _text("raqueta;fecha;verticales 1;verticales 2;horizontales 1", "fern-98-a;3/4/26;10,5;10,25;12,75")},
        {"spacings": [*_gaps("fern-98-a", "main", "10.5 10.25"), *_gaps("fern-98-a", "cross", "12.75")]},
        {"dates": "day-first"},
        ("decimal comma", "2026"),
        SPANISH,
    ),
    Case(
        "inches in fractions",
        {
            "inches.csv": _text(
                "specimen_id,quantity,strung,taken_on,value,unit",
                "fern-98-a,head_length,true,2026-04-03,12 15/16,in",
                'fern-98-a,head_width,true,2026-04-03,"9 7/16""",',
                "fern-98-a,length,true,2026-04-03,27½,in",
            )
        },
        {
            "readings": [
                "fern-98-a,head_length,true,ilsa-quarrow,calliper-ilsa,2026-04-03,1,12.9375,in",
                "fern-98-a,head_width,true,ilsa-quarrow,calliper-ilsa,2026-04-03,1,9.4375,in",
                "fern-98-a,length,true,ilsa-quarrow,calliper-ilsa,2026-04-03,1,27.5,in",
            ]
        },
        ILSA,
        (),
    ),
    Case(
        "ounces in the header and in the cells",
        {
            "weights.xlsx": xlsx(
                Weights=[
                    ["Specimen", "Measured on", "Weight (oz)", "Balance", "Strung"],
                    ["fern-98-a", DAY, 11.2, "12 3/4 in", "yes"],
                    ["fern-98-b", DAY, "11,25 oz", "32.5 cm", True],
                ]
            )
        },
        {
            "readings": [
                "fern-98-a,mass,true,ilsa-quarrow,scale-ilsa-quarrow,2026-04-03,1,11.2,oz",
                "fern-98-a,balance,true,ilsa-quarrow,board-ilsa-quarrow,2026-04-03,1,12.75,in",
                "fern-98-b,mass,true,ilsa-quarrow,scale-ilsa-quarrow,2026-04-03,1,11.25,oz",
                "fern-98-b,balance,true,ilsa-quarrow,board-ilsa-quarrow,2026-04-03,1,32.5,cm",
            ],
            "instruments": ["scale-ilsa-quarrow,scale,1,2,g", "board-ilsa-quarrow,balance_board,1,1,mm"],
        },
        {"contributor": "ilsa-quarrow"},
        ("Weight", "decimal comma"),
    ),
    Case(
        "month first, as it is said",
        {"us.csv": _text("specimen_id,family,gap,value,unit,date", "fern-98-a,main,1,10.5,mm,04/03/2026")},
        {"spacings": _gaps("fern-98-a", "main", "10.5")},
        {**ILSA, "dates": "month-first"},
    ),
    Case(
        "thousands separators",
        {
            "pull.csv": _text(
                "playtest_id,specimen_id,tester_id,played_on,string_material,string_gauge_mm,main_tension,cross_tension,tension_unit,"
                "days_since_stringing,launch_angle_deg,spin_rpm,ball_speed_kmh,control_vs_own,lift_vs_own,comfort_vs_own",
                'hit-901,fern-98-a,bas,2026-04-03,polyester,1.25,24,23,kgf,3,12.5,"2,580.5",101.9,0,0,1',
                "hit-902,fern-98-a,bas,2026-04-03,polyester,1.25,24,23,kgf,3,12.5,2 610,101.9,0,0,1",
            )
        },
        {
            "playtests": [
                "hit-901,fern-98-a,bas,2026-04-03,polyester,1.25,24,23,kgf,3,12.5,2580.5,101.9,0,0,1",
                "hit-902,fern-98-a,bas,2026-04-03,polyester,1.25,24,23,kgf,3,12.5,2610,101.9,0,0,1",
            ]
        },
        {},
    ),
    Case(
        "a block a family, what is common to all above",
        {
            "sheet.xlsx": xlsx(
                Bed=[
                    ["Specimen", "fern-98-a"],
                    ["Measured by: ilsa-quarrow"],
                    ["Instrument", "calliper-ilsa"],
                    ["Date", DAY],
                    ["Unit", "mm"],
                    [],
                    ["Mains"],
                    ["station (mm)", "gap 1", "gap 2"],
                    [0, 10.5, 10.25],
                    [80, 11, 10.75],
                    [],
                    ["Crosses"],
                    ["station (mm)", "gap 1", "gap 2"],
                    [0, 12.5, 12],
                ]
            )
        },
        {
            "spacings": [
                *_gaps("fern-98-a", "main", "10.5 10.25"),
                *_gaps("fern-98-a", "main", "11 10.75", station="80"),
                *_gaps("fern-98-a", "cross", "12.5 12"),
            ]
        },
        {},
        ("Measured by",),
    ),
    Case(
        "a new frame, a new person and a new copy in one row",
        {
            "new.csv": _text(
                "Brand,Model,Racquet,Pattern,Head size (sq in),Measured by,Date,String gauge (mm),"
                "main gap 1 (mm),main gap 2 (mm)",
                "Lorrimer,Wren Lite,Wren Lite,16x18,100,Ada Moss,2026-04-03,1.30,10.5,10.25",
            )
        },
        {
            "frames": ["wren-lite,Lorrimer,Wren Lite,retail,,16,18,645.16,,,,,,"],
            "specimens": ["wren-lite-ada-moss,wren-lite,1.30,"],
            "contributors": ["ada-moss,Ada Moss,2026-04-03,"],
            "instruments": ["calliper-ada-moss,calliper,0.02,0.04,mm"],
            "spacings": _gaps("wren-lite-ada-moss", "main", "10.5 10.25", who="ada-moss", tool="calliper-ada-moss"),
        },
        {},
        ("ada-moss", "wren-lite", "retail", "calliper-ada-moss", "16x18"),
    ),
    Case(
        "declared figures in the units of a shop's list",
        {
            "frames.xlsx": xlsx(
                frames=[
                    [
                        "frame_id",
                        "maker",
                        "model",
                        "edition",
                        "year",
                        "mains",
                        "crosses",
                        "head area (sq in)",
                        "length (in)",
                        "weight (oz)",
                    ],
                    ["wren-lite", "Lorrimer", "Wren Lite", "retail", 2025, 16, 18, 100, 27, 11.2],
                ]
            )
        },
        # NIST SP 811: 1 sq in = 6.4516 cm2, 1 in = 25.4 mm, 1 oz = 28.349523125 g
        {"frames": ["wren-lite,Lorrimer,Wren Lite,retail,2025,16,18,645.16,685.8,,317.514659,,,"]},
        {},
        ("year",),
    ),
    Case(
        "several tables in one workbook, and a sheet that is none",
        {
            "all.ods": ods(
                specimens=[
                    ["specimen_id", "frame_id", "string_gauge_mm", "note"],
                    ["fern-98-z", "fern-98", 1.25, "second hand"],
                ],
                spacings=[
                    HEADER.split(","),
                    ["fern-98-z", "cross", 0, "gap", 1, "ilsa-quarrow", "calliper-ilsa", "2026-04-03", 1, 12.5, "mm"],
                ],
                Notes=[["Read in the club house"]],
            )
        },
        {"specimens": ["fern-98-z,fern-98,1.25,second hand"], "spacings": _gaps("fern-98-z", "cross", "12.5")},
        {},
        ("Notes",),
    ),
    Case(
        "two files of one evening, read twice",
        {
            "a.csv": _text("specimen_id,repeat,date,main gap 1 (mm)", "fern-98-a,1,2026-04-03,10.5"),
            "b.csv": _text("specimen_id,repeat,date,main gap 1 (mm)", "fern-98-a,2,2026-04-03,10.4"),
        },
        {"spacings": [*_gaps("fern-98-a", "main", "10.5"), *_gaps("fern-98-a", "main", "10.4", repeat="2")]},
        ILSA,
    ),
    Case(
        "an Excel date that became a number, figures with the dust of binary fractions",
        {"serial.xlsx": xlsx(data=[["specimen_id", "taken_on", "main gap 1 (mm)"], ["fern-98-a", 46115, 10.1 + 0.2 - 0.1]])},
        # 46115 is 2026-04-03 in the 1900 system (46023 is 2026-01-01): Office Open XML, ECMA-376 part 1, 18.17.4.1
        {"spacings": _gaps("fern-98-a", "main", "10.2")},
        ILSA,
        ("46115",),
    ),
]


@dataclass(frozen=True)
class Refused:
    """A delivery that cannot be read.

    name: of the test.
    files: content by name.
    code: of the error.
    words: what the error says, the cell among it.
    wishes: what is said on the command line.
    """

    name: str
    files: dict[str, bytes]
    code: str
    words: tuple[str, ...]
    wishes: dict[str, str] = field(default_factory=dict)


def _one(name: str, code: str, words: tuple[str, ...], *lines: str, **wishes: str) -> Refused:
    return Refused(name, {"sent.csv": _text(*lines)}, code, words, {**ILSA, **wishes})


WIDE = "specimen_id,date,main gap 1 (mm),main gap 2 (mm)"
REFUSED = [
    _one(
        "a date that is two days", "ambiguous-date", ("sent.csv:2", "03/04/2026", "--dates"), WIDE, "fern-98-a,03/04/2026,10,11"
    ),
    _one(
        "both orders in one file",
        "ambiguous-date",
        ("--dates",),
        WIDE,
        "fern-98-a,25/03/2026,10,11",
        "fern-98-b,03/25/2026,10,11",
    ),
    _one("no day", "bad-date", ("31/02/2026", "sent.csv:2"), WIDE, "fern-98-a,31/02/2026,10,11"),
    _one(
        "a comma that may part thousands", "ambiguous-number", ("10,125", "--decimal"), WIDE, 'fern-98-a,2026-04-03,"10,125",11'
    ),
    _one(
        "a comma that only a note explains",
        "ambiguous-number",
        ("10,125",),
        f"{WIDE},note",
        'fern-98-a,2026-04-03,"10,125",11,3.5 years old',
    ),
    _one("letters for a figure", "not-a-number", ("l0.5", "sent.csv:2", "main gap 1"), WIDE, "fern-98-a,2026-04-03,l0.5,11"),
    _one("a fraction without end", "not-a-number", ("10 1/3",), WIDE, "fern-98-a,2026-04-03,10 1/3,11"),
    _one("a unit nobody knows", "unit-unknown", ("10 ells",), WIDE, "fern-98-a,2026-04-03,10 ells,11"),
    _one("a unit of another kind", "unit-dimension", ("10 g",), WIDE, "fern-98-a,2026-04-03,10 g,11"),
    _one("no unit anywhere", "no-unit", ("--unit",), "specimen_id,date,main gap 1", "fern-98-a,2026-04-03,10"),
    _one("no day anywhere", "no-day", ("--on",), "specimen_id,main gap 1 (mm)", "fern-98-a,10"),
    _one("neither copy nor frame", "no-specimen", ("--specimen",), "date,main gap 1 (mm)", "2026-04-03,10"),
    _one("mains or crosses", "no-family", ("family",), "specimen_id,date,gap 1 (mm)", "fern-98-a,2026-04-03,10"),
    _one("a copy nobody knows", "no-frame", ("wren-9-a", "--frame"), WIDE, "wren-9-a,2026-04-03,10,11"),
    _one("a frame nobody knows", "unknown-frame", ("fern-89",), WIDE, "wren-9-a,2026-04-03,10,11", frame="fern-89"),
    _one("no header", "no-header", ("sent.csv", "--map"), "Hello", "fern-98-a,10,11"),
    _one(
        "two columns of one name",
        "column-twice",
        ("specimen_id",),
        "specimen_id,specimen_id,date,main gap 1 (mm)",
        "a,b,2026-04-03,1",
    ),
    _one("beyond the schema's limits", "limit", ("1001", "sent.csv:2"), WIDE, "fern-98-a,2026-04-03,1001,11"),
    _one("a formula for a name", "formula", ("=cmd",), "specimen_id,frame_id,note", "x-a,fern-98,=cmd()"),
    _one(
        "one reading twice",
        "conflict",
        ("fern-98-a", "sent.csv:3"),
        WIDE,
        "fern-98-a,2026-04-03,10,11",
        "fern-98-a,2026-04-03,10,12",
    ),
    Refused(
        "a fraction that a spreadsheet took for a day",
        {"sent.xlsx": xlsx(Bed=[["specimen_id", "date", "main gap 1 (in)"], ["fern-98-a", DAY, DAY]])},
        "not-a-number",
        ("sheet Bed, cell C2", "date"),
        ILSA,
    ),
    Refused(
        "letters in a cell of a workbook",
        {"sent.xlsx": xlsx(Bed=[[], ["specimen_id", "date", "main gap 1 (mm)"], ["fern-98-a", DAY, "ten"]])},
        "not-a-number",
        ("sent.xlsx, sheet Bed, cell C3", "ten"),
        ILSA,
    ),
]


def written(files: dict[str, bytes], folder: Path) -> list[Path]:
    """The files of a delivery in a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return [folder / name for name in files]
