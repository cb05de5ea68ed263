"""Faults of single cells: blank, of another type, not on the list, badly written, out of limits, too long, harmful."""

from __future__ import annotations

from planted_files import BREAK
from planting import append, bom, cell, crlf, plant, swap

EDGE = "fern-98-c,main,0,gap,0,"
LAST_MARK = "nettle-97-a,cross,0,mark,21,maud-tarrowby,rule-maud,2024-03-20,2,"
INCH_MARK = "fern-98-club-b,main,0,mark,9,"
NOTE = "given by a member; hangs at Thornay Weir; grommets new"

REQUIRED = [
    plant("required", "a value left blank in the last row", cell("spacings", LAST_MARK, "value", "334.0", ""),
          table="spacings", at=LAST_MARK, column="value"),
    plant("required", "a unit that does not apply", cell("readings", "fern-98-c,head_length,", "unit", "mm", "NA"),
          table="readings", at="fern-98-c,head_length,", column="unit"),
    plant("required", "no maker", cell("frames", "dune-102,", "maker", "Lathemoor", ""),
          table="frames", at="dune-102,", column="maker"),
    plant("required", "no resolution, with CRLF", cell("instruments", "planimeter-school,", "resolution", "0.5", ""),
          crlf("instruments"), table="instruments", at="planimeter-school,", column="resolution"),
    plant("required", "no name, with a byte-order mark", cell("contributors", "ilsa-quarrow,", "name", "Ilsa Quarrow", ""),
          bom("contributors"), table="contributors", at="ilsa-quarrow,", column="name"),
    plant("required", "no day", cell("playtests", "hit-432,", "played_on", "2026-11-13", ""),
          table="playtests", at="hit-432,", column="played_on"),
]  # fmt: skip
TYPES = [
    plant("type", "two points in a gap", cell("spacings", "fern-98-a,cross,0,gap,3,", "value", "17.02", "17.0.2"),
          table="spacings", at="fern-98-a,cross,0,gap,3,", column="value"),
    plant("type", "no number", cell("spacings", EDGE, "value", "20.06", "nan"), table="spacings", at=EDGE, column="value"),
    plant("type", "a number without end", cell("readings", "fern-98-c,mass,", "value", "325.1", "1e400"),
          table="readings", at="fern-98-c,mass,", column="value"),
    plant("type", "an underscore in a number", cell("playtests", "hit-001,", "spin_rpm", "2580", "2_580"),
          table="playtests", at="hit-001,", column="spin_rpm"),
    plant("type", "a day with points", cell("readings", "nettle-97-a,head_width,", "taken_on", "2024-03-20", "20.03.2024"),
          table="readings", at="nettle-97-a,head_width,", column="taken_on"),
    plant("type", "the 30th of February", cell("contributors", "brenna-oss,", "since", "2024-02-11", "2024-02-30"),
          table="contributors", at="brenna-oss,", column="since"),
    plant("type", "neither true nor false", cell("readings", "fern-98-a,head_length,", "strung", "true", "yes"),
          table="readings", at="fern-98-a,head_length,", column="strung"),
    plant("type", "half a string", cell("frames", "knoll-100,", "mains", "16", "16.5"),
          table="frames", at="knoll-100,", column="mains"),
    plant("type", "a word for a number, in a file with CRLF and a byte-order mark",
          cell("frames", "fern-98,", "length_mm", "685", "standard"), crlf("frames"), bom("frames"),
          table="frames", at="fern-98,", column="length_mm"),
    plant("type", "a unit in the cell of a value", cell("spacings", INCH_MARK, "value", "5.50000", "5.50000in"),
          table="spacings", at=INCH_MARK, column="value"),
]  # fmt: skip
ENUMS = [
    plant("enum", "a plural", cell("spacings", "fern-98-b,main,80,gap,7,", "family", "main", "mains"),
          table="spacings", at="fern-98-b,mains,80,gap,7,", column="family"),
    plant("enum", "a kind of reading that is not", cell("spacings", LAST_MARK, "kind", "mark", "position"),
          table="spacings", at="nettle-97-a,cross,0,position,21,", column="kind"),
    plant("enum", "a quantity in short", cell("readings", "fern-98-c,head_width,", "quantity", "head_width", "width"),
          table="readings", at="fern-98-c,width,", column="quantity"),
    plant("enum", "a capital", cell("frames", "fern-98,", "edition", "retail", "Retail"),
          table="frames", at="fern-98,", column="edition"),
    plant("enum", "gut", cell("playtests", "hit-323,", "string_material", "natural", "gut"), crlf("playtests"),
          table="playtests", at="hit-323,", column="string_material"),
    plant("enum", "a style nobody has", cell("testers", "gudrun,", "style", "mixed", "all round"),
          table="testers", at="gudrun,", column="style"),
]  # fmt: skip
PATTERNS = [
    plant("pattern", "a capital and a blank in a frame's id", cell("frames", "dune-102,", "frame_id", "dune-102", "Dune 102"),
          table="frames", at="Dune 102,", column="frame_id"),
    plant("pattern", "an underscore", cell("playtests", "hit-100,", "playtest_id", "hit-100", "hit_100"),
          table="playtests", at="hit_100,", column="playtest_id"),
    plant("pattern", "a blank behind an id, below a cell of two lines", BREAK,
          cell("specimens", "moraine-98-b,", "frame_id", "moraine-98", "moraine-98 "),
          table="specimens", at="moraine-98-b,", column="frame_id"),
    plant("pattern", "a capital in who read",
          cell("spacings", "tansy-100-b,main,0,gap,4,", "contributor_id", "tam-veldrick", "Tam-veldrick"),
          table="spacings", at="tansy-100-b,main,0,gap,4,", column="contributor_id"),
]  # fmt: skip
LIMITS = [
    plant("limit", "a negative gap", cell("spacings", "fern-98-c,cross,0,gap,19,", "value", "34.08", "-34.08"),
          table="spacings", at="fern-98-c,cross,0,gap,19,", column="value"),
    plant("limit", "a station outside the head", cell("spacings", "dune-102-a,main,80,gap,16,", "station_mm", "80", "180"),
          table="spacings", at="dune-102-a,main,180,gap,16,", column="station_mm"),
    plant("limit", "repeat 0", cell("readings", "fern-98-a,swingweight,", "repeat", "1", "0"),
          table="readings", at="fern-98-a,swingweight,", column="repeat"),
    plant("limit", "a head in square inches", cell("frames", "hazel-105,", "head_area_cm2", "677.4", "105"),
          table="frames", at="hazel-105,", column="head_area_cm2"),
    plant("limit", "a length in inches, with a byte-order mark", cell("frames", "drizzle-97,", "length_mm", "685", "27"),
          bom("frames"), table="frames", at="drizzle-97,", column="length_mm"),
    plant("limit", "a mass in ounces", cell("frames", "fern-98,", "mass_g", "324", "11.4"),
          table="frames", at="fern-98,", column="mass_g"),
    plant("limit", "seven mains", cell("frames", "sedge-95,", "mains", "16", "7"),
          table="frames", at="sedge-95,", column="mains"),
    plant("limit", "a gauge ten times too thick, with CRLF",
          swap("specimens", "knoll-100-c,knoll-100,1.30", "knoll-100-c,knoll-100,13.0"),
          crlf("specimens"), table="specimens", at="knoll-100-c,", column="string_gauge_mm"),
    plant("limit", "a mark beyond the scale", cell("playtests", "hit-432,", "comfort_vs_own", "0", "4"),
          table="playtests", at="hit-432,", column="comfort_vs_own"),
]  # fmt: skip
TOO_LONG = [
    plant("too-long", "a note of 401 characters in the first row",
          swap("specimens", NOTE, "x" * (401 - len("Invented copy, "))),
          table="specimens", at="fern-98-a,", column="note"),
    plant("too-long", "a maker's name of 81 characters", cell("frames", "yarrow-105,", "maker", "Sundrel", "y" * 81),
          table="frames", at="yarrow-105,", column="maker"),
    plant("too-long", "a sentence for a unit", cell("readings", "fern-98-c,mass,", "unit", "g", "grams with its strings"),
          table="readings", at="fern-98-c,mass,", column="unit"),
]  # fmt: skip
FORMULAS = [
    plant("formula", "a link to be clicked, in a note", swap("specimens", f"Invented copy, {NOTE}", "=HYPERLINK(1)"),
          table="specimens", at="fern-98-a,", column="note"),
    plant("formula", "an at sign before a name", cell("contributors", "ilsa-quarrow,", "name", "Ilsa Quarrow", "@Ilsa"),
          table="contributors", at="ilsa-quarrow,", column="name"),
    plant("formula", "a minus sign before a frame, with CRLF",
          cell("testers", "lowri,", "own_frame", "whatever hangs in the rack", "-none"),
          crlf("testers"), table="testers", at="lowri,", column="own_frame"),
    plant("formula", "a tab before a note, below a cell of two lines", BREAK,
          swap("specimens", '"Invented copy, lent by the school; hangs at Brindle', '"\tLent by the school; hangs at Brindle'),
          table="specimens", at="fern-98-c,", column="note"),
    plant("formula", "a plus sign before a reason",
          append("exceptions", "mirror,fern-98-a/main,+1 from me,tam-veldrick,2026-01-01"),
          table="exceptions", at=2, column="reason"),
    plant("formula", "a formula after blanks", swap("specimens", "Invented copy, given", "  =1+1, given"),
          table="specimens", at="fern-98-a,", column="note"),
    plant("formula", "a formula with a full-width sign", swap("specimens", "Invented copy, given", "＝1+1, given"),
          table="specimens", at="fern-98-a,", column="note"),
    plant("drawing", "a copy that gapbook drill designed, admitted long ago",
          swap("specimens", "Invented copy, given by a member; hangs at Thornay Weir; grommets new",
               "A drawing by gapbook drill: nobody read it off a frame"),
          table="specimens", at="fern-98-a,", column="note"),
]  # fmt: skip
CONTROLS = [
    *(plant("control-character", f"an invisible character, U+{ord(sign):04X}",
            swap("specimens", "Thornay Weir", f"Thornay{sign}Weir"),
            table="specimens", at="fern-98-a,", column="note") for sign in "\u00ad\u200b\u2060\u3164\U000e0041"),
    plant("control-character", "a bell in a note", swap("specimens", "Thornay Weir", "Thornay\x07Weir"),
          table="specimens", at="fern-98-a,", column="note"),
    plant("control-character", "a mark that turns the line round",
          cell("frames", "fern-95,", "model", "Fern 95", "Fern \u202e59"),
          table="frames", at="fern-95,", column="model"),
    plant("control-character", "a null byte",
          cell("contributors", "wen-arkady-holt,", "name", "Wen Arkady-Holt", "Wen\x00Holt"),
          table="contributors", at="wen-arkady-holt,", column="name"),
    plant("control-character", "an escape sequence in the last row",
          cell("testers", "lowri,", "own_frame", "whatever hangs in the rack", "\x1b[31mred"),
          table="testers", at="lowri,", column="own_frame"),
]  # fmt: skip
PLANTS = [*REQUIRED, *TYPES, *ENUMS, *PATTERNS, *LIMITS, *TOO_LONG, *FORMULAS, *CONTROLS]

HARMLESS = [
    plant("", "a note of 400 characters", swap("specimens", NOTE, "x" * (400 - len("Invented copy, "))), table=""),
    plant("", "a minus sign inside a text", cell("testers", "bas,", "own_frame", "Meadow 100", "Meadow - the old one"),
          table=""),
    plant("", "a length that is not declared", cell("frames", "fern-98,", "length_mm", "685", "NA"), table=""),
    plant("", "a gap with a zero less", cell("spacings", "fern-100-b,cross,0,gap,1,", "value", "19.10", "19.1"), table=""),
]  # fmt: skip
