"""Faults of bodies, and of what the rules of tennis set limits to."""

from __future__ import annotations

from planting import append, bom, cell, crlf, placed, plant

IMPOSSIBLE = [
    plant("impossible-body", "a balance point far towards the head", cell("frames", "fern-98,", "balance_mm", "321", "481"),
          table="frames", at="fern-98,", column="balance_mm"),
    plant("impossible-body", "a swingweight two digits of which are the other way round, and one too much",
          cell("frames", "dune-102,", "swingweight_kgcm2", "325", "599"), crlf("frames"), bom("frames"),
          table="frames", at="dune-102,", column="swingweight_kgcm2"),
    plant("impossible-body", "a swingweight of less than the balance point makes",
          cell("readings", "fern-98-b,swingweight,", "value", "322.5", "122.5"),
          table="readings", at="fern-98-b,swingweight,", column="value"),
    plant("impossible-body", "a balance point beyond the head",
          cell("readings", "tansy-100-b,balance,", "value", "323.5", "690.5"),
          table="readings", at="tansy-100-b,balance,", column="value"),
]  # fmt: skip
UNUSUAL = [
    plant("unusual-body", "a mass with two digits the other way round", cell("frames", "squall-100,", "mass_g", "320", "230"),
          table="frames", at="squall-100,", column="mass_g"),
    plant("unusual-body", "60 kg.cm2 too much", cell("frames", "fern-98,", "swingweight_kgcm2", "326", "386"),
          table="frames", at="fern-98,", column="swingweight_kgcm2"),
    plant("unusual-body", "a hundred grams too much, read, with CRLF",
          cell("readings", "tarn-95-a,mass,", "value", "332", "432"),
          crlf("readings"), table="readings", at="tarn-95-a,mass,", column="value"),
    plant("unusual-body", "a balance point 5 cm towards the butt",
          cell("readings", "tansy-100-b,balance,", "value", "323.5", "273.5"),
          table="readings", at="tansy-100-b,balance,", column="value"),
]  # fmt: skip
SHIFTS = [
    plant("strung-shift", "strings that weigh nothing",
          append("readings", "fern-98-a,mass,false,ilsa-quarrow,scale-post,2023-12-10,1,320.4,g"),
          table="readings", at="fern-98-a,mass,true,", column="value"),
    plant("strung-shift", "strings of 40 g, read unstrung first in the file",
          append("readings", "drumlin-98-a,mass,true,ilsa-quarrow,scale-post,2023-10-18,1,334.6,g"),
          table="readings", at="drumlin-98-a,mass,true,", column="value"),
    plant("strung-shift", "a swingweight that falls by stringing, with a byte-order mark",
          append("readings", "tansy-100-b,swingweight,false,brenna-oss,swing-weir,2024-02-11,1,320.5,kg.cm2"), bom("readings"),
          table="readings", at="tansy-100-b,swingweight,true,", column="value"),
    plant("strung-shift", "strings that move the balance point to the butt",
          append("readings", "knoll-100-b,balance,false,tam-veldrick,board-tam,2025-10-30,1,330.5,mm"),
          table="readings", at="knoll-100-b,balance,true,", column="value"),
]  # fmt: skip
GAME = [
    plant("frame-size", "a frame declared 740 mm long", cell("frames", "fern-98,", "length_mm", "685", "740"),
          table="frames", at="fern-98,", column="length_mm"),
    plant("frame-size", "the last frame, with CRLF and a byte-order mark",
          cell("frames", "vetch-96,", "length_mm", "685", "738"),
          crlf("frames"), bom("frames"), table="frames", at="vetch-96,", column="length_mm"),
    plant("frame-size", "a frame read 29.25 in long", cell("readings", "combe-107-a,length,", "value", "26.96875", "29.25000"),
          table="readings", at="combe-107-a,length,", column="value"),
    plant("frame-size", "a head 400 mm long, of a copy whose bed nobody read",
          append("readings", "sedge-95-a,head_length,true,tam-veldrick,rule-tam,2026-01-10,1,400.0,mm"),
          table="readings", at="sedge-95-a,head_length,", column="value"),
    plant("outer-density", "mains drilled closer outside than inside", *placed(
        "fern-98-c", "main", "10.80 11.50 12.26 13.06 13.90 14.90 15.98 16.02 15.94 14.94 13.86 13.10 12.22 11.54 10.80"),
        table="spacings", at="fern-98-c,main,"),
    plant("outer-density", "crosses drilled closer at tip and throat, in a file with CRLF", *placed(
        "knoll-100-a", "cross",
        "12.04 12.44 12.64 12.94 13.08 13.22 14.08 14.86 15.94 18.70 18.36 17.32 17.02 16.36 15.70 14.90 "
        "13.72 13.62"), crlf("spacings"), table="spacings", at="knoll-100-a,main,"),
]  # fmt: skip
PLANTS = [*IMPOSSIBLE, *UNUSUAL, *SHIFTS, *GAME]

HARMLESS = [
    plant("", "a frame of 27.5 in", cell("frames", "fern-98,", "length_mm", "685", "699"), table=""),
    plant("", "a bed of 16 g", append("readings", "fern-98-a,mass,false,ilsa-quarrow,scale-post,2023-12-10,1,305.7,g"),
          table=""),
]  # fmt: skip
