"""Faults of things that readings hang on: frames as they are declared, one thing under two ids, instruments, points."""

from __future__ import annotations

from planted_sent import own
from planting import Plant, append, bom, cell, crlf, plant

FERN = "fern-98,Fellwright,Fern 98,retail,2021,16,19,632.3,685,24.0,324,321,326,true"

RELEASED = [
    plant("release-year", "a year to come", cell("frames", "fern-98,", "release_year", "2021", "2027"),
          table="frames", at="fern-98,", column="release_year"),
    plant("release-year", "a year after its copies were read, in a spreadsheet's file",
          cell("frames", "tarn-95,", "release_year", "2019", "2025"), crlf("frames"), bom("frames"),
          table="frames", at="tarn-95,", column="release_year"),
    plant("release-year", "two digits the other way round", cell("frames", "nettle-97,", "release_year", "2020", "2062"),
          table="frames", at="nettle-97,", column="release_year"),
    plant("release-year", "no copy read, but played years before", cell("frames", "willow-98,", "release_year", "2019", "2026"),
          table="frames", at="willow-98,", column="release_year"),
]  # fmt: skip
STATES = [
    plant("strung-not-stated", "a whole body of which nobody knows whether it is strung",
          cell("frames", "fern-98,", "strung", "true", ""), table="frames", at="fern-98,", column="strung"),
    plant("strung-not-stated", "a mass alone, in a spreadsheet's file", cell("frames", "mizzle-104,", "strung", "false", ""),
          crlf("frames"), bom("frames"), table="frames", at="mizzle-104,", column="strung"),
    plant("strung-not-stated", "a state that does not apply", cell("frames", "willow-98,", "strung", "false", "NA"),
          table="frames", at="willow-98,", column="strung"),
]  # fmt: skip
TWINS = [
    plant("twin-frame", "a frame once more under another id",
          append("frames", FERN.replace("fern-98,", "fellwright-fern-98,", 1)),
          table="frames", at="fellwright-fern-98,", column="frame_id"),
    plant("twin-frame", "an id misspelt and the maker too, in a spreadsheet's file",
          append("frames", FERN.replace("fern-98,Fellwright", "ferm-98,Felwright", 1)), crlf("frames"), bom("frames"),
          table="frames", at="ferm-98,", column="frame_id"),
    plant("twin-frame", "other case and another blank",
          append("frames", "hoar-96,BRACKWATER,Hoar-Frost 96,retail,2025,16,19,619.4,,,,,,"),
          table="frames", at="hoar-96,", column="frame_id"),
    own("twin-frame", "a frame that the catalogue has, under the sender's id",
        append("frames", FERN.replace("fern-98,", "fern-98-hanne,", 1)),
        table="frames", at="fern-98-hanne,", column="frame_id"),
    plant("twin-person", "a name misspelt in the id", append("contributors", "tam-veldrik,Tam V.,2024-01-01,"),
          table="contributors", at="tam-veldrik,", column="contributor_id"),
    plant("twin-person", "one name, two ids, with an accent", append("contributors", "maud-t,Maud Tárrowby,2024-01-01,"),
          crlf("contributors"), table="contributors", at="maud-t,", column="contributor_id"),
    plant("twin-person", "a tester with two letters exchanged", append("testers", "dangy,mixed,Knoll 100"),
          table="testers", at="dangy,", column="tester_id"),
    own("twin-person", "somebody whom the catalogue has, under another id",
        append("contributors", "ilsa,Ilsa Quarrow,2026-10-01,"),
        table="contributors", at="ilsa,", column="contributor_id"),
]  # fmt: skip
TOOLS = [
    plant("instrument-plausible", "a scale without error", cell("instruments", "scale-post,", "max_error", "0.5", "0"),
          table="instruments", at="scale-post,", column="max_error"),
    plant("instrument-plausible", "a swing rig of no step, in a spreadsheet's file",
          cell("instruments", "swing-weir,", "resolution", "0.5", "0"), crlf("instruments"), bom("instruments"),
          table="instruments", at="swing-weir,", column="resolution"),
    plant("instrument-plausible", "a calliper in hundredths of an inch whose readings are in hundredths of a millimetre",
          cell("instruments", "calliper-ilsa,", "unit", "mm", "in"), table="instruments", at="calliper-ilsa,", column="unit"),
    plant("instrument-plausible", "a rule in inches described in millimetres",
          cell("instruments", "rule-jorun,", "unit", "in", "mm"), table="instruments", at="rule-jorun,", column="resolution"),
]  # fmt: skip
POINTS = [
    plant("balance-points", "four points in place of inches", cell("readings", "fern-98-a,balance,", "value", "12.5000", "4"),
          table="readings", at="fern-98-a,balance,", column="value"),
    plant("balance-points", "six points of millimetres, in a spreadsheet's file",
          cell("readings", "fern-98-c,balance,", "value", "319.0", "6"), crlf("readings"), bom("readings"),
          table="readings", at="fern-98-c,balance,", column="value"),
    plant("balance-points", "points by their name", cell("readings", "fern-98-c,balance,", "value", "319.0", "7"),
          cell("readings", "fern-98-c,balance,", "unit", "mm", "pts HL"),
          table="readings", at="fern-98-c,balance,", column="unit"),
]  # fmt: skip
PLANTS: list[Plant] = [*RELEASED, *STATES, *TWINS, *TOOLS, *POINTS]

HARMLESS = [
    plant("", "another pattern of the same name",
          append("frames", "fern-98-18x20,Fellwright,Fern 98,retail,2021,18,20,632.3,,,,,,"),
          table=""),
    plant("", "next year's edition of the same name",
          append("frames", "fern-98-2024,Fellwright,Fern 98,retail,2024,16,19,632.3,,,,,,"),
          table=""),
    plant("", "two people of one first name",
          append("contributors", "tam-b,Tam Berrow,2024-01-01,", "tam-c,Tam Corley,2024-01-01,"),
          table=""),
]  # fmt: skip
