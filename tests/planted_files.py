"""Faults of files and rows as a whole: links, missing and foreign files, quotation marks, encodings, headers, widths."""

from __future__ import annotations

from planting import Folder, Link, append, bom, cell, crlf, plant, put, swap, two_lines, whole

LATIN_1 = "Marrow Förd".encode("latin-1")
BREAK = two_lines("specimens", "Invented copy, given by a member;")
"""Breaks the note of the first specimen in two: all others stand a line lower."""

REFUSED = [
    plant("path", "a table that is a link", put("readings", Link("frames.csv")), table="readings"),
    plant("path", "a link out of the package", put("exceptions", Link("/etc/hostname")), table="exceptions"),
    plant("path", "a link to nowhere", put("playtests", Link("nowhere.csv")), table="playtests"),
]
"""A package with a link in it is refused whole: nobody may be led out of it, not even by a check."""
MISSING = [
    plant("missing-file", "no exceptions", put("exceptions", None), table="exceptions"),
    plant("missing-file", "no testers", put("testers", None), table="testers"),
    plant("missing-file", "no spacings", put("spacings", None), table="spacings"),
]
UNREADABLE = [
    plant("unreadable", "a quotation mark left open in the last row",
          whole("specimens", lambda text: text[: text.rindex(b'"')] + b"\n"), table="specimens", at="lupin-102-a,"),
    plant("unreadable", "a quotation mark left open in the first row",
          swap("testers", "Burdock 90, strung tight\"", "Burdock 90, strung tight"), table="testers", at="anneke,"),
    plant("unreadable", "letters behind a closing quotation mark",
          swap("testers", 'the second of two"', 'the second of two" or three'), table="testers", at="ferro,"),
    plant("unreadable", "an inch mark in a quoted note, below a cell of two lines", BREAK,
          swap("specimens", "hangs at Upper Lathe; grip", 'hangs at 27" Lathe; grip'), table="specimens", at="fern-98-b,"),
    plant("unreadable", "a folder in place of a table", put("readings", Folder()), table="readings"),
]  # fmt: skip
ENCODING = [
    plant("encoding", "a name in Latin-1", swap("contributors", "Wen Arkady", "Wen Årkady".encode("latin-1")),
          table="contributors", at="wen-arkady-holt,"),
    plant("encoding", "a note in Latin-1, in the first row", swap("specimens", "Thornay Weir", LATIN_1),
          table="specimens", at="fern-98-a,"),
    plant("encoding", "a note in Latin-1, below a cell of two lines, in a file with a byte-order mark and CRLF",
          BREAK, swap("specimens", "Brindle Cross; hoop", LATIN_1 + b"; hoop"), crlf("specimens"), bom("specimens"),
          table="specimens", at="fern-98-c,"),
    plant("encoding", "a header in Latin-1", swap("testers", "own_frame", "own_främe".encode("latin-1")),
          table="testers", at=1),
    plant("encoding", "UTF-16 bytes in a maker's name", swap("frames", "Oske & Tarn", "Oské".encode("utf-16")),
          table="frames", at="squall-100,"),
]  # fmt: skip
HEADERS = [
    plant("header", "a column with another name", swap("spacings", "taken_on", "date"), table="spacings", at=1),
    plant("header", "two columns the other way round", swap("readings", "value,unit", "unit,value"), table="readings", at=1),
    plant("header", "a column less", swap("instruments", ",unit\n", "\n"), table="instruments", at=1),
    plant("header", "a column more", swap("testers", "own_frame\n", "own_frame,grip\n"), table="testers", at=1),
    plant("header", "capitals", swap("contributors", "since", "Since"), table="contributors", at=1),
    plant("header", "no header, in a file with a byte-order mark", swap("frames", "frame_id,maker,", "fern-97,Fellwright,"),
          bom("frames"), table="frames", at=1),
    plant("header", "semicolons, with CRLF", whole("playtests", lambda text: text.replace(b",", b";")), crlf("playtests"),
          table="playtests", at=1),
    plant("header", "an empty file", put("exceptions", b""), table="exceptions", at=1),
]  # fmt: skip
LAST_READING = "lupin-102-a,balance,true,jorun-pellick,board-jorun,2025-10-05,1,12.6875,in"
WIDTHS = [
    plant("width", "a comma too many at the end of the first row",
          swap("spacings", "2023-12-18,1,22.54,mm", "2023-12-18,1,22.54,mm,"),
          table="spacings", at=2),
    plant("width", "a cell too few in the last row", swap("readings", LAST_READING, LAST_READING.removesuffix(",in")),
          table="readings", at="lupin-102-a,balance,"),
    plant("width", "a comma in a text without quotation marks",
          swap("testers", '"Lichen 98, with a leather grip"', "Lichen 98, with a leather grip"), table="testers", at="kester,"),
    plant("width", "a decimal comma, with CRLF", cell("frames", "moraine-98,", "beam_mm", "23.5", "23,5"), crlf("frames"),
          table="frames", at="moraine-98,"),
    plant("width", "a row of one word, below a cell of two lines", BREAK, append("specimens", "end"),
          table="specimens", at="end"),
    plant("width", "a decimal comma in a mark, in a file with a byte-order mark",
          cell("spacings", "fern-98-club-a,main,0,mark,5,", "value", "97.0", "97,0"), bom("spacings"),
          table="spacings", at="fern-98-club-a,main,0,mark,5,"),
]  # fmt: skip
PLANTS = [*MISSING, *UNREADABLE, *ENCODING, *HEADERS, *WIDTHS]

HARMLESS = [
    plant("", "byte-order marks", *(bom(table) for table in ("frames", "specimens", "spacings", "readings")), table=""),
    plant("", "CRLF", *(crlf(table) for table in ("frames", "specimens", "spacings", "playtests", "testers")), table=""),
    plant("", "a cell of two lines", BREAK, table=""),
    plant("", "CRLF, a byte-order mark and a cell of two lines", BREAK, crlf("specimens"), bom("specimens"), table=""),
    plant("", "no line feed at the end", *(whole(table, lambda text: text[:-1]) for table in ("spacings", "frames")), table=""),
    plant("", "cells in quotation marks that need none", swap("frames", "Fellwright,Fern 98,", '"Fellwright","Fern 98",'),
          table=""),
    plant("", "blank lines at the end", whole("readings", lambda text: text + b"\n\n"), table=""),
    plant("", "letters beyond ASCII", swap("contributors", "Wen Arkady", "Wén Årkady"), table=""),
]  # fmt: skip
