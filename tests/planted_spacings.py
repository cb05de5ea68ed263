"""Faults of string beds: runs that are not whole, figures out of line, beds that do not close, heads of another size."""

from __future__ import annotations

from planted_files import BREAK
from planting import append, bom, cell, cells, crlf, drop, drop_all, placed, plant

FERN_C = {"specimen_id": "fern-98-c", "family": "main"}


COUNTS = [
    plant("declared-counts", "18 mains declared where two repeats have 16", cell("frames", "fern-100,", "mains", "16", "18"),
          table="spacings", at="fern-100-a,main,", column="no"),
    plant("declared-counts", "a cross too many declared, of a run from edge to edge, with a byte-order mark",
          cell("frames", "dune-102,", "crosses", "18", "19"), bom("spacings"),
          table="spacings", at="dune-102-a,cross,", column="no"),
    plant("declared-counts", "mains declared as crosses, of marks", cell("frames", "nettle-97,", "mains", "18", "20"),
          table="spacings", at="nettle-97-a,main,", column="no"),
]  # fmt: skip
KINDS = [
    plant("wrong-kind", "a session of gaps written as marks", cells("spacings", "kind", "mark", specimen_id="fern-98-c"),
          table="spacings", at="fern-98-c,main,0,mark,0,", column="kind"),
    plant("wrong-kind", "a session of marks written as gaps, with CRLF",
          cells("spacings", "kind", "gap", specimen_id="combe-107-a"), crlf("spacings"),
          table="spacings", at="combe-107-a,main,", column="kind"),
    plant("wrong-kind", "gaps without edges written as marks", cells("spacings", "kind", "mark", specimen_id="fern-100-b"),
          table="spacings", at="fern-100-b,main,0,mark,1,", column="kind"),
]  # fmt: skip
MISSING = [
    plant("missing-numbers", "a gap forgotten in the middle", drop("spacings", "fern-98-c,main,0,gap,8,"),
          table="spacings", at="fern-98-c,main,0,gap,0,", column="no"),
    plant("missing-numbers", "the first edge forgotten", drop("spacings", "fern-98-c,cross,0,gap,0,"),
          table="spacings", at="fern-98-c,cross,0,gap,1,", column="no"),
    plant("missing-numbers", "the last mark of two repeats forgotten, at the end of a file with CRLF",
          drop("spacings", *(f"nettle-97-a,cross,0,mark,21,maud-tarrowby,rule-maud,2024-03-20,{one}," for one in (1, 2))),
          crlf("spacings"), table="spacings", at="nettle-97-a,cross,0,mark,0,", column="no"),
    plant("missing-numbers", "a mark at a further station forgotten", drop("spacings", "drumlin-98-a,main,-80,mark,11,"),
          table="spacings", at="drumlin-98-a,main,-80,mark,0,", column="no"),
    plant("missing-numbers", "three gaps forgotten, in inches",
          drop("spacings", *(f"moraine-98-b,cross,0,gap,{one}," for one in (4, 5, 17))),
          table="spacings", at="moraine-98-b,cross,0,gap,0,", column="no"),
    plant("missing-numbers", "gap 0 left out of every run of a session and the last one kept",
          drop("spacings", "dune-102-a,cross,0,gap,0,"),
          table="spacings", at="dune-102-a,cross,0,gap,1,", column="no"),
    plant("missing-numbers", "one edge of two",
          append("spacings", "knoll-100-club-a,cross,0,gap,0,brenna-oss,calliper-brenna,2024-03-09,1,30.05,mm"),
          table="spacings", at="knoll-100-club-a,cross,0,gap,0,", column="no"),
]  # fmt: skip
SURPLUS = [
    plant("surplus-numbers", "a number far beyond the edge",
          append("spacings", "fern-98-c,main,0,gap,18,tam-veldrick,calliper-tam,2023-06-10,1,12.10,mm"),
          table="spacings", at="fern-98-c,main,0,gap,0,", column="no"),
    plant("surplus-numbers", "a mark 31 for a mark 13, with CRLF and a byte-order mark",
          append("spacings", "esker-99-club-a,cross,0,mark,31,wen-arkady-holt,photo-wen,2025-08-21,1,355.0,mm"),
          crlf("spacings"), bom("spacings"), table="spacings", at="esker-99-club-a,cross,0,mark,0,", column="no"),
    plant("surplus-numbers", "a gap beyond a run without edges",
          append("spacings", "fern-100-b,main,0,gap,17,brenna-oss,calliper-brenna,2026-03-01,1,17.10,mm"),
          table="spacings", at="fern-100-b,main,0,gap,1,", column="no"),
]  # fmt: skip
STATIONS = [
    plant("missing-station", "mains at another station only", cells("spacings", "station_mm", "80", **FERN_C),
          table="spacings", at="fern-98-c,main,80,gap,0,"),
    plant("missing-station", "no crosses at all", drop_all("spacings", "burdock-89-a,cross,"),
          table="spacings", at="burdock-89-a,main,"),
    plant("missing-station", "the middle one of three stations forgotten", drop_all("spacings", "dune-102-a,main,0,"),
          table="spacings", at="dune-102-a,main,-80,gap,0,"),
    plant("close-stations", "a second station written in centimetres", cells("spacings", "station_mm", "8",
          specimen_id="bracken-98-a", family="main", station_mm="80"),
          table="spacings", at="bracken-98-a,main,8,gap,0,", column="station_mm"),
    plant("close-stations", "three stations within the width of a hand", cells("spacings", "station_mm", "-20",
          specimen_id="dune-102-a", station_mm="-80"),
          cells("spacings", "station_mm", "20", specimen_id="dune-102-a", station_mm="80"), crlf("spacings"),
          table="spacings", at="dune-102-a,main,-20,gap,0,", column="station_mm"),
    plant("station", "crosses once more at the tip",
          *(append("spacings", f"fern-100-b,cross,80,gap,{no},brenna-oss,calliper-brenna,2026-03-01,1,{14 + no / 20:.2f},mm")
            for no in range(1, 19)), table="spacings", at="fern-100-b,cross,80,gap,1,", column="station_mm"),
    plant("station", "the crosses of one session of two",
          cells("spacings", "station_mm", "-80", specimen_id="fern-95-a", family="cross", contributor_id="tam-veldrick"),
          table="spacings", at="fern-95-a,cross,-80,gap,0,", column="station_mm"),
]  # fmt: skip
ORDER = [
    plant("gap-not-positive", "a gap of nothing", cell("spacings", "fern-98-c,main,0,gap,9,", "value", "10.20", "0.00"),
          table="spacings", at="fern-98-c,main,0,gap,9,", column="value"),
    plant("gap-not-positive", "the last gap of the crosses, in inches, with a byte-order mark",
          cell("spacings", "moraine-98-b,cross,0,gap,19,", "value", "1.269", "0"), bom("spacings"),
          table="spacings", at="moraine-98-b,cross,0,gap,19,", column="value"),
    plant("gap-not-positive", "the first of all gaps of a copy",
          cell("spacings", "knoll-100-club-a,main,0,gap,1,", "value", "18.55", "0.0"),
          table="spacings", at="knoll-100-club-a,main,0,gap,1,", column="value"),
    plant("marks-not-rising", "a hundred less",
          cell("spacings", "esker-99-club-a,cross,0,mark,12,", "value", "190.33", "90.33"),
          table="spacings", at="esker-99-club-a,cross,0,mark,12,", column="value"),
    plant("marks-not-rising", "a mark like the one before, in inches",
          cell("spacings", "burdock-89-a,main,0,mark,21,", "value", "9.62500", "8.68750"),
          table="spacings", at="burdock-89-a,main,0,mark,21,", column="value"),
    plant("marks-not-rising", "the second mark below the first, with CRLF",
          cell("spacings", "combe-107-a,main,0,mark,2,", "value", "26.0", "2.6"), crlf("spacings"),
          table="spacings", at="combe-107-a,main,0,mark,2,", column="value"),
]  # fmt: skip
LINE = [
    plant("gap-out-of-line", "two digits the other way round",
          cell("spacings", "fern-98-b,main,0,gap,9,", "value", "9.66", "6.96"),
          table="spacings", at="fern-98-b,main,0,gap,9,", column="value"),
    plant("gap-out-of-line", "a figure of 30 for one of 10", cell("spacings", "fern-98-c,main,0,gap,7,", "value", "10.54",
          "30.54"),
          table="spacings", at="fern-98-c,main,0,gap,7,", column="value"),
    plant("gap-out-of-line", "3 mm too much in the crosses",
          cell("spacings", "knoll-100-a,cross,0,gap,10,", "value", "12.04", "15.04"),
          table="spacings", at="knoll-100-a,cross,0,gap,10,", column="value"),
    plant("gap-out-of-line", "a point slipped, in a file with CRLF and a byte-order mark",
          cell("spacings", "knoll-100-club-a,cross,0,gap,9,", "value", "10.80", "1.08"), crlf("spacings"), bom("spacings"),
          table="spacings", at="knoll-100-club-a,cross,0,gap,9,", column="value"),
    plant("gap-out-of-line", "3 mm too little, without edges",
          cell("spacings", "fern-100-b,main,0,gap,8,", "value", "11.20", "8.20"),
          table="spacings", at="fern-100-b,main,0,gap,8,", column="value"),
    plant("gap-out-of-line", "a mark 5 mm off", cell("spacings", "combe-107-a,cross,0,mark,10,", "value", "151.5", "156.5"),
          table="spacings", at="combe-107-a,cross,0,mark,10,", column="value"),
    plant("gap-out-of-line", "a mark of a photograph, two digits the other way round",
          cell("spacings", "esker-99-club-a,cross,0,mark,13,", "value", "201.78", "207.18"),
          table="spacings", at="esker-99-club-a,cross,0,mark,13,", column="value"),
    plant("gap-out-of-line", "an eighth of an inch",
          cell("spacings", "burdock-89-a,main,0,mark,11,", "value", "5.21875", "5.09375"),
          table="spacings", at="burdock-89-a,main,0,mark,11,", column="value"),
    plant("gap-out-of-line", "two digits the other way round, in inches",
          cell("spacings", "moraine-98-b,cross,0,gap,8,", "value", "0.460", "0.640"),
          table="spacings", at="moraine-98-b,cross,0,gap,8,", column="value"),
    plant("gap-out-of-line", "a string skipped: one gap as two",
          cell("spacings", "tansy-100-b,cross,0,gap,12,", "value", "11.86", "23.68"),
          table="spacings", at="tansy-100-b,cross,0,gap,12,", column="value"),
    plant("gap-out-of-line", "a slip in the second repeat of a mark",
          cell("spacings", "nettle-97-a,cross,0,mark,12,maud-tarrowby,rule-maud,2024-03-20,2,", "value", "191.0", "197.0"),
          table="spacings", at="nettle-97-a,cross,0,mark,12,maud-tarrowby,rule-maud,2024-03-20,2,", column="value"),
]  # fmt: skip
CLOSING = [
    plant("misclosure", "a head 10 mm too wide",
          cell("readings", "scree-97-club-a,head_width,", "value", "240.5", "250.5"), table="spacings",
          at="scree-97-club-a,main,"),
    plant("misclosure", "a head 30 mm too short, with a byte-order mark",
          cell("readings", "knoll-100-a,head_length,", "value", "326.5", "296.5"), bom("spacings"),
          table="spacings", at="knoll-100-a,cross,"),
    plant("misclosure", "an edge 12 mm too wide on both sides", *placed("fern-98-c", "main", "32.06", 0),
          *placed("fern-98-c", "main", "32.14", 16), table="spacings", at="fern-98-c,main,"),
    plant("misclosure", "a head width of inches and sixteenths misread, with CRLF",
          cell("readings", "esker-99-club-a,head_width,", "value", "245.0", "254.0"), crlf("spacings"),
          table="spacings", at="esker-99-club-a,main,"),
]  # fmt: skip
MIRROR = [
    plant("mirror", "the left half one row too low",
          *placed("tansy-100-b", "main", "10.92 18.60 16.56 14.64 13.40 12.36 11.08"), table="spacings",
          at="tansy-100-b,main,"),
    plant("mirror", "the mains read from left to right and back again", *placed(
        "fern-98-c", "main", "17.72 16.64 14.30 13.38 12.10 11.70 10.54 18.18 16.14 14.40 13.60 12.50 10.62 10.20 9.80"),
        crlf("spacings"), table="spacings", at="fern-98-c,main,", under="gap-out-of-line",
        because="the last gap fits neither its neighbours nor its twin, and stands out most"),
    plant("mirror", "the right half one row too high, without edges, with CRLF",
          *placed("fern-100-b", "main", "11.65 12.90 12.60 14.35 15.60 16.80 10.00", 9), crlf("spacings"),
          table="spacings", at="fern-100-b,main,"),
    plant("mirror", "the mains from the narrowest to the widest, below a cell of two lines", BREAK, *placed(
        "knoll-100-club-a", "main", "9.60 9.95 11.20 11.50 11.60 12.20 12.65 13.05 13.75 14.70 15.00 16.60 16.75 18.35 18.55"),
        table="spacings", at="knoll-100-club-a,main,", under="gap-out-of-line",
        because="one of the gaps that are out of order stands out most"),
]  # fmt: skip
HEADS = [
    plant("head-area", "a head declared a sixth larger", cell("frames", "dune-102,", "head_area_cm2", "658.1", "768.1"),
          table="spacings", at="dune-102-a,main,"),
    plant("head-area", "a head declared a fifth smaller, with CRLF",
          cell("frames", "burdock-89,", "head_area_cm2", "574.2", "474.2"),
          crlf("spacings"), table="spacings", at="burdock-89-a,main,"),
    plant("no-head-area", "a head of which nothing is known", cell("frames", "meadow-105,", "head_area_cm2", "677.4", ""),
          table="frames", at="meadow-105,", column="head_area_cm2"),
    plant("no-head-area", "an area that does not apply", cell("frames", "willow-104,", "head_area_cm2", "671.0", "NA"),
          crlf("frames"), table="frames", at="willow-104,", column="head_area_cm2"),
    plant("declared-area", "a head read 30 cm2 smaller", cell("readings", "bracken-98-b,head_area,", "value", "632.0", "602.0"),
          table="readings", at="bracken-98-b,head_area,", column="value"),
    plant("declared-area", "two digits the other way round",
          cell("readings", "combe-100-a,head_area,", "value", "644.5", "464.5"),
          table="readings", at="combe-100-a,head_area,", column="value"),
    plant("declared-area", "a head read larger, in a file with CRLF and a byte-order mark",
          cell("readings", "juniper-95-a,head_area,", "value", "613.5", "663.5"), crlf("readings"), bom("readings"),
          table="readings", at="juniper-95-a,head_area,", column="value"),
]  # fmt: skip
PLANTS = [*COUNTS, *KINDS, *MISSING, *SURPLUS, *STATIONS, *ORDER, *LINE, *CLOSING, *MIRROR, *HEADS]

HARMLESS = [
    plant("", "a repeat that leaves a gap out", drop("spacings", "fern-98-a,main,0,gap,8,"), table=""),
    plant("", "a figure a tenth off", cell("spacings", "fern-98-c,main,0,gap,7,", "value", "10.54", "10.64"), table=""),
    plant("", "a station without its repeat", drop_all("spacings", "nettle-97-a,main,80,mark,"), table=""),
]  # fmt: skip
