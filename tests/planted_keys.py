"""Faults between rows: keys that stand twice, ids that no row has."""

from __future__ import annotations

from planted_files import BREAK
from planting import after, append, bom, cell, cells, crlf, drop, plant, swap

GAP = "fern-98-c,main,0,gap,7,tam-veldrick,calliper-tam,2023-06-10,1,"
REPEATED = [
    plant("repeated-key", "a gap once more at the end", append("spacings", GAP + "10.60,mm"),
          table="spacings", at=GAP, nth=2, column="repeat"),
    plant("repeated-key", "the very same gap again, right below", after("spacings", GAP, GAP + "10.54,mm"),
          table="spacings", at=GAP, nth=2, column="repeat"),
    plant("repeated-key", "a station written as 0.0, in a file with a byte-order mark and CRLF",
          append("spacings", "fern-100-b,cross,0.0,gap,18,brenna-oss,calliper-brenna,2026-03-01,1,19.45,mm"),
          bom("spacings"), crlf("spacings"), table="spacings", at="fern-100-b,cross,0.0,", column="repeat"),
    plant("repeated-key", "a reading with the same repeat",
          cell("readings", "fern-98-a,head_width,", "repeat", "2", "1", nth=2),
          table="readings", at="fern-98-a,head_width,", nth=2, column="repeat"),
    plant("repeated-key", "a frame twice, differently",
          append("frames", "dune-102,Lathemoor,Dune 102,club,2014,16,18,658.1,685,,,,,"),
          table="frames", at="dune-102,", nth=2, column="frame_id"),
    plant("repeated-key", "a playtest's number twice", cell("playtests", "hit-002,", "playtest_id", "hit-002", "hit-001"),
          table="playtests", at="hit-001,", nth=2, column="playtest_id"),
    plant("repeated-key", "a specimen twice, below a cell of two lines", BREAK, append("specimens",
          "dune-102-a,dune-102,1.25,"),
          table="specimens", at="dune-102-a,", nth=2, column="specimen_id"),
    plant("repeated-key", "an instrument twice", append("instruments", "rule-tam,rule,1,0.5,mm"),
          table="instruments", at="rule-tam,", nth=2, column="instrument_id"),
    plant("repeated-key", "an exception twice",
          append("exceptions", *["mirror,fern-98-a/main,seen,tam-veldrick,2026-01-01"] * 2),
          table="exceptions", at=3, column="row_key"),
]  # fmt: skip
REFERENCES = [
    plant("reference", "a specimen nobody described",
          cells("readings", "specimen_id", "nettle-99-a", specimen_id="nettle-97-a"),
          table="readings", at="nettle-99-a,", column="specimen_id"),
    plant("reference", "a slip in one row's specimen",
          cell("spacings", "dune-102-a,main,0,gap,9,", "specimen_id", "dune-102-a", "dune-120-a"),
          table="spacings", at="dune-120-a,", column="specimen_id"),
    plant("reference", "a frame nobody described", swap("specimens", "dune-102-a,dune-102,", "dune-102-a,dune-103,"),
          table="specimens", at="dune-102-a,", column="frame_id"),
    plant("reference", "a frame taken out, below a cell of two lines", BREAK, drop("frames", "tarn-95,"),
          table="specimens", at="tarn-95-a,", column="frame_id"),
    plant("reference", "a person taken out", drop("contributors", "edric-sallow,"),
          table="spacings", at="moraine-98-b,main,0,gap,0,", column="contributor_id"),
    plant("reference", "an instrument taken out", drop("instruments", "planimeter-school,"),
          table="readings", at="fern-98-b,head_area,", column="instrument_id"),
    plant("reference", "an instrument misspelt in a session",
          cells("spacings", "instrument_id", "caliper-brenna", specimen_id="knoll-100-club-a"), crlf("spacings"),
          table="spacings", at="knoll-100-club-a,main,0,gap,1,", column="instrument_id"),
    plant("reference", "a tester nobody knows, in the last row", cell("playtests", "hit-432,", "tester_id", "ivor", "ivo"),
          table="playtests", at="hit-432,", column="tester_id"),
    plant("reference", "a tester taken out, in a file with a byte-order mark", drop("testers", "lowri,"), bom("playtests"),
          table="playtests", at="hit-004,", column="tester_id"),
    plant("reference", "a playtest of a specimen nobody has",
          cell("playtests", "hit-001,", "specimen_id", "bracken-98-club-a", "bracken-98-club-z"),
          table="playtests", at="hit-001,", column="specimen_id"),
    plant("reference", "a specimen taken out that three tables name", drop("specimens", "knoll-100-club-a,"),
          table="spacings", at="knoll-100-club-a,", column="specimen_id"),
]  # fmt: skip
PLANTS = [*REPEATED, *REFERENCES]

HARMLESS = [
    plant("", "a reading with its own repeat, at the end of the file",
          append("readings", "fern-98-c,mass,true,ilsa-quarrow,scale-post,2023-06-10,2,325.2,g"), table=""),
    plant("", "a frame that nobody has", append("frames", "mallow-98,Lathemoor,Mallow 98,retail,,16,19,632.3,,,,,,"), table=""),
]  # fmt: skip
