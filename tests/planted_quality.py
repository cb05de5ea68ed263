"""Faults of reading: steps, repeats and people that disagree, copied figures, days, marks; and exceptions."""

from __future__ import annotations

from planting import again, append, bom, cell, cells, crlf, placed, plant

RESOLUTION = [
    plant("resolution", "a gap finer than the calliper",
          cell("spacings", "fern-98-c,main,0,gap,7,", "value", "10.54", "10.545"),
          table="spacings", at="fern-98-c,main,0,gap,7,", column="value"),
    plant("resolution", "a session in halves of a millimetre, by a calliper of a hundredth",
          cells("spacings", "value", lambda text: f"{round(float(text) * 2) / 2:.2f}", specimen_id="dune-102-a"),
          table="spacings", at="dune-102-a,main,-80,gap,0,", column="value"),
    plant("resolution", "tenths of a gram from a kitchen scale, with CRLF",
          cell("readings", "tarn-95-a,mass,", "value", "332", "331.7"), crlf("readings"),
          table="readings", at="tarn-95-a,mass,", column="value"),
    plant("resolution", "tenths of a millimetre from a rule of halves",
          cell("readings", "knoll-100-a,head_width,", "value", "249.0", "249.2"),
          table="readings", at="knoll-100-a,head_width,", column="value"),
    plant("resolution", "the last mark, finer than the rule",
          cell("spacings", "nettle-97-a,cross,0,mark,21,maud-tarrowby,rule-maud,2024-03-20,2,", "value", "334.0", "334.2"),
          table="spacings", at="nettle-97-a,cross,0,mark,21,maud-tarrowby,rule-maud,2024-03-20,2,", column="value"),
]  # fmt: skip
REPEATS = [
    plant("repeats-scatter", "a width 9 mm off its repeat",
          cell("readings", "drumlin-98-b,head_width,", "value", "9.68750", "9.34375"),
          table="readings", at="drumlin-98-b,head_width,", column="value"),
    plant("repeats-scatter", "the third of three balances",
          cell("readings", "willow-98-d,balance,true,tam-veldrick,board-tam,2025-04-15,3,", "value", "320.0", "330.0"),
        table="readings", at="willow-98-d,balance,true,tam-veldrick,board-tam,2025-04-15,3,", column="value"),
    plant("repeats-scatter", "a swingweight with a wrong ten, with a byte-order mark",
          cell("readings", "combe-100-a,swingweight,true,tam-veldrick,swing-lathe,2024-03-03,2,", "value", "320", "330"),
          bom("readings"), table="readings", at="combe-100-a,swingweight,true,tam-veldrick,swing-lathe,2024-03-03,2,",
          column="value"),
    plant("repeats-scatter", "an outermost gap 2 mm off its repeat",
          cell("spacings", "fern-98-a,main,0,gap,0,ilsa-quarrow,""calliper-ilsa,2023-12-18,2,", "value", "22.56", "24.56"),
          table="spacings", at="fern-98-a,main,0,gap,0,ilsa-quarrow,calliper-ilsa,2023-12-18,2,", column="value"),
]  # fmt: skip
SESSIONS = [
    plant("repeats-scatter", "a width 30 mm off its repeats, so that the bed would not close either",
          cell("readings", "bracken-98-b,head_width,true,maud-tarrowby,rule-maud,2024-09-07,3,", "value", "242.5", "272.5"),
          table="readings", at="bracken-98-b,head_width,true,maud-tarrowby,rule-maud,2024-09-07,3,", column="value"),
    plant("sessions-disagree", "gaps half a millimetre too wide in one session of two, day for day",
          cells("spacings", "value", lambda text: f"{float(text) + 0.7:.2f}", specimen_id="fern-95-a", family="main",
                contributor_id="tam-veldrick"),
          table="spacings", at="fern-95-a,main,0,gap,0,tam-", column="value"),
    plant("sessions-disagree", "a length 8 mm longer for another person",
          *(cell("readings", f"fern-98-c,head_length,true,maud-tarrowby,rule-maud,2023-06-19,{one},", "value", "326.5", "334.5")
            for one in (1, 2)), crlf("readings"), table="readings", at="fern-98-c,head_length,true,maud-", column="value"),
]  # fmt: skip
CROSSES = (
    "31.32 19.30 17.60 15.98 15.56 13.60 14.28 12.52 12.06 10.66 11.08 10.84 12.32 13.52 13.66 14.82 16.42 16.62 19.20 35.40"
)
"""Those of fern-98-b, to the fiftieth of a millimetre that both callipers can read."""
SAME = [
    plant("same-spacings", "the crosses of a copy under another of the frame, in a file with a byte-order mark",
          *placed("fern-98-c", "cross", CROSSES, 0), *placed("fern-98-b", "cross", CROSSES, 0), bom("spacings"),
          table="spacings", at="fern-98-c,cross,", column="specimen_id"),
    plant("same-spacings", "a session filed under two copies, at the end of a file with CRLF",
          again("spacings", "fern-98-c,", ("fern-98-c", "fern-98-b")), crlf("spacings"),
          table="spacings", at="fern-98-b,main,0,gap,0,tam-", column="specimen_id"),
]  # fmt: skip
DATES = [
    plant("future-date", "a session of next year", cells("spacings", "taken_on", "2027-06-10", specimen_id="fern-98-c"),
          table="spacings", at="fern-98-c,main,", column="taken_on"),
    plant("future-date", "the last reading, two days ahead",
          cell("readings", "lupin-102-a,balance,", "taken_on", "2025-10-05", "2026-11-27"),
          table="readings", at="lupin-102-a,balance,", column="taken_on"),
    plant("future-date", "a playtest to come, with CRLF",
          cell("playtests", "hit-001,", "played_on", "2023-05-06", "2032-05-06"),
          crlf("playtests"), table="playtests", at="hit-001,", column="played_on"),
    plant("future-date", "an exception decided next year",
          append("exceptions", "mirror,fern-98-a/main,seen,tam-veldrick,2027-01-01"),
          table="exceptions", at="mirror,", column="decided_on", beside="exception-stale",
          because="it accepts nothing that is found"),
    plant("before-joining", "a person who joined a year later",
          cell("contributors", "wen-arkady-holt,", "since", "2025-03-08", "2026-03-08"),
          table="spacings", at="moraine-98-c,main,-80,mark,0,", column="taken_on"),
    plant("before-joining", "a mass read in another century",
          cell("readings", "fern-98-c,mass,", "taken_on", "2023-06-10", "1923-06-10"),
          table="readings", at="fern-98-c,mass,", column="taken_on"),
    plant("before-joining", "a session of the year before",
          cells("spacings", "taken_on", "2022-06-10", specimen_id="fern-98-c"),
          bom("spacings"), table="spacings", at="fern-98-c,main,", column="taken_on"),
]  # fmt: skip
MARKS = [
    plant("same-marks", "no comfort ever", cells("playtests", "comfort_vs_own", "0", tester_id="lowri"),
          table="playtests", at="hit-004,", column="comfort_vs_own"),
    plant("same-marks", "the same lift for every frame, with CRLF and a byte-order mark",
          cells("playtests", "lift_vs_own", "2", tester_id="bas"), crlf("playtests"), bom("playtests"),
          table="playtests", at="hit-001,", column="lift_vs_own"),
]  # fmt: skip
STALE = [
    plant("exception-stale", "an exception for what nobody finds", append(
        "exceptions", "mirror,fern-98-c/main,steps in the drilling,tam-veldrick,2026-01-01"),
        table="exceptions", at="mirror,", column="rule"),
    plant("exception-stale", "the code of no rule, in the last row, with CRLF", append(
        "exceptions", "mirrors,fern-98-c/main,steps in the drilling,tam-veldrick,2026-01-01"), crlf("exceptions"),
        table="exceptions", at="mirrors,", column="rule"),
    plant("exception-stale", "an exception from what must be mended", append(
        "exceptions", "likely-unit,fern-98-c,inches are fine,tam-veldrick,2026-01-01"), bom("exceptions"),
        table="exceptions", at="likely-unit,", column="rule"),
]  # fmt: skip
OWN = [
    plant("own-exception", "a gap finer than the calliper, accepted by who read it",
          cell("spacings", "fern-98-c,main,0,gap,7,", "value", "10.54", "10.545"),
          append("exceptions", "resolution,fern-98-c/main/0/gap/7/tam-veldrick/calliper-tam/2023-06-10/1,seen,tam-veldrick,"
                 "2026-01-01"),
          table="exceptions", at="resolution,", column="who", beside="resolution", because="it is what was accepted"),
    plant("own-exception", "tenths of a gram from a kitchen scale, accepted by who weighed",
          cell("readings", "tarn-95-a,mass,", "value", "332", "331.7"),
          append("exceptions", "resolution,tarn-95-a/mass/true/maud-tarrowby/scale-kitchen/2024-06-28/1,it shows tenths,"
                 "maud-tarrowby,2026-01-01"),
          table="exceptions", at="resolution,", column="who", beside="resolution", because="it is what was accepted"),
]  # fmt: skip
PLANTS = [*RESOLUTION, *REPEATS, *SESSIONS, *SAME, *DATES, *MARKS, *STALE, *OWN]

HARMLESS = [
    plant("", "a playtest of tomorrow, where it is tomorrow already",
          cell("playtests", "hit-432,", "played_on", "2026-11-13", "2026-11-26"), table=""),
    plant("", "readings on the day of joining", cell("readings", "fern-98-c,mass,", "taken_on", "2023-06-10", "2023-04-15"),
          table=""),
]  # fmt: skip
