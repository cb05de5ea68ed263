"""Faults of units: unknown ones, those of something else, instruments that read something else, values in another unit."""

from __future__ import annotations

from planting import bom, cell, cells, crlf, plant

UNKNOWN = [
    plant("unit-unknown", "a unit nobody knows, in one reading", cell("readings", "fern-98-c,mass,", "unit", "g", "gr."),
          table="readings", at="fern-98-c,mass,", column="unit"),
    plant("unit-unknown", "a full stop behind the unit of a whole session",
          cells("spacings", "unit", "m.m.", specimen_id="dune-102-a"),
          table="spacings", at="dune-102-a,main,-80,gap,0,", column="unit"),
    plant("unit-unknown", "an instrument's, in a file with CRLF and a byte-order mark",
          cell("instruments", "calliper-ilsa,", "unit", "mm", "rods"), crlf("instruments"), bom("instruments"),
          table="instruments", at="calliper-ilsa,", column="unit"),
    plant("unit-unknown", "a tension in stones, in the last row", cell("playtests", "hit-432,", "tension_unit", "kgf", "stone"),
          table="playtests", at="hit-432,", column="tension_unit"),
]  # fmt: skip
DIMENSION = [
    plant("unit-dimension", "a mass in millimetres", cell("readings", "fern-98-c,mass,", "unit", "g", "mm"),
          table="readings", at="fern-98-c,mass,", column="unit"),
    plant("unit-dimension", "an area in millimetres", cell("readings", "bracken-98-b,head_area,", "unit", "cm2", "mm"),
          table="readings", at="bracken-98-b,head_area,", column="unit"),
    plant("unit-dimension", "a swingweight in grams", cell("readings", "tansy-100-b,swingweight,", "unit", "kg.cm2", "g"),
          table="readings", at="tansy-100-b,swingweight,", column="unit"),
    plant("unit-dimension", "gaps in grams, over a session", cells("spacings", "unit", "g", specimen_id="nettle-97-a"),
          table="spacings", at="nettle-97-a,main,0,mark,0,", column="unit"),
    plant("unit-dimension", "one gap in pounds", cell("spacings", "fern-98-c,cross,0,gap,19,", "unit", "mm", "lb"),
          table="spacings", at="fern-98-c,cross,0,gap,19,", column="unit"),
    plant("unit-dimension", "a calliper that reads grams", cell("instruments", "calliper-tam,", "unit", "mm", "g"),
          table="instruments", at="calliper-tam,", column="unit"),
    plant("unit-dimension", "a tension in millimetres", cell("playtests", "hit-001,", "tension_unit", "lb", "mm"),
          table="playtests", at="hit-001,", column="tension_unit"),
]  # fmt: skip
INSTRUMENT = [
    plant("instrument-dimension", "a mass read with a rule",
          cell("readings", "fern-98-c,mass,", "instrument_id", "scale-post", "rule-tam"),
          table="readings", at="fern-98-c,mass,", column="instrument_id"),
    plant("instrument-dimension", "gaps read with a scale, over a session",
          cells("spacings", "instrument_id", "scale-post", specimen_id="fern-98-c"),
          table="spacings", at="fern-98-c,main,0,gap,0,", column="instrument_id"),
    plant("instrument-dimension", "an area read with a rule, with CRLF",
          cell("readings", "bracken-98-b,head_area,", "instrument_id", "planimeter-school", "rule-maud"), crlf("readings"),
          table="readings", at="bracken-98-b,head_area,", column="instrument_id"),
    plant("instrument-dimension", "the last balance read with a scale",
          cell("readings", "lupin-102-a,balance,", "instrument_id", "board-jorun", "scale-ounces"),
          table="readings", at="lupin-102-a,balance,", column="instrument_id"),
]  # fmt: skip
LIKELY = [
    plant("likely-unit", "27 mm long", cell("readings", "fern-98-a,length,", "unit", "in", "mm"),
          table="readings", at="fern-98-a,length,", column="value"),
    plant("likely-unit", "11 g heavy, the first of two", cell("readings", "fern-98-b,mass,", "unit", "oz", "g"),
          table="readings", at="fern-98-b,mass,", column="value"),
    plant("likely-unit", "98 cm2 large", cell("readings", "bracken-98-b,head_area,", "value", "632.0", "98.0"),
          table="readings", at="bracken-98-b,head_area,", column="value"),
    plant("likely-unit", "balanced at 12 mm, in the last row", cell("readings", "lupin-102-a,balance,", "unit", "in", "mm"),
          table="readings", at="lupin-102-a,balance,", column="value"),
    plant("likely-unit", "9.5 mm wide, with a byte-order mark",
          cell("readings", "fern-98-club-a,head_width,", "unit", "in", "mm"),
          bom("readings"), table="readings", at="fern-98-club-a,head_width,", column="value"),
    plant("likely-unit", "65 ounces in grams", cell("readings", "fern-98-c,mass,", "unit", "g", "oz"),
          table="readings", at="fern-98-c,mass,", column="value"),
    plant("likely-unit", "a session of inches called millimetres", cells("spacings", "unit", "mm", specimen_id="moraine-98-b"),
          table="spacings", at="moraine-98-b,main,0,gap,0,", column="unit"),
    plant("likely-unit", "marks in inches called millimetres", cells("spacings", "unit", "mm", specimen_id="fern-98-club-b"),
          table="spacings", at="fern-98-club-b,main,0,mark,0,", column="unit"),
    plant("likely-unit", "a session of millimetres called inches, with CRLF",
          cells("spacings", "unit", "in", specimen_id="knoll-100-club-a"), crlf("spacings"),
          table="spacings", at="knoll-100-club-a,main,0,gap,1,", column="unit"),
    plant("likely-unit", "a session of millimetres called centimetres",
          cells("spacings", "unit", "cm", specimen_id="fern-98-c"),
          table="spacings", at="fern-98-c,main,0,gap,0,", column="unit"),
    plant("likely-unit", "a width in centimetres called millimetres, finer than the rule as well",
          cell("readings", "knoll-100-a,head_width,", "value", "249.0", "24.9"),
          table="readings", at="knoll-100-a,head_width,", column="value"),
    plant("likely-unit", "53 N of pull", cell("playtests", "hit-430,", "tension_unit", "lb", "N"),
          table="playtests", at="hit-430,", column="main_tension"),
]  # fmt: skip
PLANTS = [*UNKNOWN, *DIMENSION, *INSTRUMENT, *LIKELY]

HARMLESS = [
    plant("", "everyday names of units", cells("spacings", "unit", "in", specimen_id="moraine-98-b"),
          cells("readings", "unit", "kg cm2", instrument_id="swing-weir"), table=""),
]  # fmt: skip
