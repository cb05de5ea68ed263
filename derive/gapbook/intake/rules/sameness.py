"""Figures too much alike to be real: the same spacings twice, and a tester's one mark for every frame."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import Passes
from gapbook.intake.rule import Rule
from gapbook.science.grouping import FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.statistics import holm
from gapbook.science.steps import same_probability
from gapbook.tables.units import codes, renumber

DIFFERENT = 5
"""How many different gaps a list must have, because two evenly drilled beds may honestly read alike. Common practice, no
source."""
MARKS = ("control_vs_own", "lift_vs_own", "comfort_vs_own")
LEVEL = 0.01
"""Probability that any tester who marks as others do is reported, over a whole package. Common practice, no source."""
ENOUGH = 50
"""How many figures read twice by others tell how often such readings agree. Common practice, no source."""
PLAYTESTS = 10
"""How many playtests a tester must have. Common practice, no source."""

_Hashes = NDArray[np.uint64]


def look_spacings(context: CheckContext) -> Iterator[Finding]:
    """One finding for each specimen with a pass whose figures another specimen has too. Passes are compared by their hashes."""
    passes = context.passes
    hashes = _hashes(passes)
    order = np.lexsort((passes.first, hashes))
    same = np.flatnonzero(hashes[order][1:] == hashes[order][:-1]) + 1
    group = np.cumsum(np.concatenate([[True], hashes[order][1:] != hashes[order][:-1]])) if len(order) else order
    copied: dict[int, tuple[int, int]] = {}
    for one in np.unique(group[same]).tolist():
        alike = order[np.searchsorted(group, one) : np.searchsorted(group, one, side="right")]
        others = alike[passes.specimen[alike] != passes.specimen[alike[0]]].tolist()
        if not others or not varied(passes, int(alike[0])):
            continue
        for number in others:
            known = copied.get(int(passes.specimen[number]))
            if known is None or passes.first[number] < passes.first[known[0]]:
                copied[int(passes.specimen[number])] = number, int(alike[0])
    for number, other in copied.values():
        figures = int((passes.row[number] >= 0).sum())
        yield _copied(context, int(passes.first[number]), int(passes.first[other]), figures)


def look_sessions(context: CheckContext) -> Iterator[Finding]:
    """One finding for each specimen with two repeats, or two sessions, whose figures are the same throughout."""
    passes = context.passes
    if not len(passes.first):
        return
    level = np.rint((passes.station + 200.0) * 10.0).astype(np.int64)
    kin = distinct(passes.specimen, passes.family, passes.is_mark.astype(np.int64), level).number
    several = np.flatnonzero(np.bincount(kin)[kin] > 1)
    several = several[np.argsort(passes.first[several], kind="stable")]
    alike = distinct(kin[several], np.unique(_hashes(passes)[several], return_inverse=True)[1].astype(np.int64))
    first = several[alike.first][alike.number]
    again = np.flatnonzero(first != several)
    figures = (passes.row[several] >= 0).sum(axis=1).astype(float)
    rate = _same_rate(context, several[again])
    tests = len(several) - len(np.unique(kin[several]))
    bad = again[holm(rate ** figures[again], LEVEL, max(tests, len(again)))]
    by_copy: dict[tuple[int, int, int], list[int]] = {}
    for place in bad.tolist():
        number, other = int(several[place]), int(first[place])
        is_repeat = passes.session[number] == passes.session[other]
        key = int(passes.specimen[number]), -1 if is_repeat else int(passes.session[other]), int(passes.session[number])
        by_copy.setdefault(key, []).append(place)
    for places in by_copy.values():
        yield _same_session(context, several[places], first[places])


def _same_rate(context: CheckContext, numbers: IntArray) -> FloatArray:
    """How probable it is that a figure of each of the passes `numbers` [N] is read the same again: by the hand's scatter and
    the instrument's step; or by how often other people's repeats with such an instrument agree, if that is more.
    """
    passes, tools = context.passes, context.catalogue.instruments
    step = np.maximum(tools.resolution, 1e-6)[passes.instrument]
    rate = same_probability(step[numbers], np.sqrt(2.0 * context.complete.variance[numbers]))
    order = np.lexsort((passes.repeat, passes.run))
    next_of = np.flatnonzero(passes.run[order][1:] == passes.run[order][:-1])
    one, two = order[next_of], order[next_of + 1]
    both = (passes.row[one] >= 0) & (passes.row[two] >= 0)
    equal = (np.abs(np.nan_to_num(passes.value[one] - passes.value[two], nan=1.0)) < 1e-6) & both
    person = codes(context.tables["spacings"]["contributor_id"])[passes.first] + 1
    pool = distinct(tools.kind[passes.instrument], passes.is_mark.astype(np.int64), np.rint(step * 1e4).astype(np.int64)).number
    pools = int(pool.max(initial=-1)) + 1
    each = distinct(pool, person).number
    groups = int(each.max(initial=-1)) + 1
    seen, same = both.sum(axis=1).astype(float), equal.sum(axis=1).astype(float)
    others_seen = sum_by(pool[one], seen, pools)[pool] - sum_by(each[one], seen, groups)[each]
    others_same = sum_by(pool[one], same, pools)[pool] - sum_by(each[one], same, groups)[each]
    found = np.where(others_seen >= ENOUGH, (others_same + 1.0) / (others_seen + 2.0), 0.0)[numbers]
    return np.asarray(np.maximum(rate, found))


def _same_session(context: CheckContext, mine: IntArray, others: IntArray) -> Finding:
    """The finding about passes of one session that repeat other passes of the same specimen."""
    passes = context.passes
    row, other = int(passes.first[mine].min()), int(passes.first[others].min())
    figures = int((passes.row[mine] >= 0).sum())
    names = ("contributor_id", "taken_on", "instrument_id", "repeat")
    cell = {name: (context.cell("spacings", row, name), context.cell("spacings", other, name)) for name in names}
    column = next((name for name, (one, two) in cell.items() if one != two), "repeat")
    now, before = cell[column]
    if column == "repeat":
        said = f"repeat {now} has the same {figures} figures as repeat {before}, throughout"
    elif column == "contributor_id":
        said = f"{now} has the same {figures} figures as {before}, throughout"
    else:
        said = f"the same {figures} figures {'on' if column == 'taken_on' else 'with'} {now} as {before}, throughout"
    deviation = float(np.sqrt(2.0 * context.complete.variance[mine[0]]))
    return Finding(
        "spacings",
        column,
        said,
        f"figures that differ by about {deviation:.2f} mm, as two readings of one bed do",
        about=context.catalogue.specimens.ids[int(passes.specimen[mine[0]])],
        rows=(row, *context.first_own("spacings", passes.first[np.concatenate([mine, others])])),
        keyed=1,
    )


def _mixed(value: _Hashes) -> _Hashes:
    """Each value with its bits well mixed (the finaliser of the splitmix64 generator), so that sums of them seldom collide."""
    for shift, factor in ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB)):
        value = (value ^ (value >> np.uint64(shift))) * np.uint64(factor)
    return np.asarray(value ^ (value >> np.uint64(31)))


def _hashes(passes: Passes) -> _Hashes:
    """A hash of the figures of each pass [P]; specimen and person do not enter."""
    tenths_of_micrometres = np.rint(np.nan_to_num(passes.value, nan=-1.0) * 1e4).astype(np.int64).astype(np.uint64)
    columns = np.arange(1, passes.value.shape[1] + 1, dtype=np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    whole = _mixed(tenths_of_micrometres + columns[None, :]).sum(axis=1, dtype=np.uint64)
    station = np.rint((passes.station + 200.0) * 10.0).astype(np.int64)
    return _mixed(whole + ((station * 2 + passes.family) * 2 + passes.is_mark).astype(np.uint64))


def varied(passes: Passes, number: int) -> bool:
    """Whether the gaps of a pass differ so much that another pass can only be the same if it was copied."""
    values = passes.value[number][passes.row[number] >= 0]
    gaps = np.diff(values) if passes.is_mark[number] else values
    return len(np.unique(np.round(gaps, 4))) >= DIFFERENT


def _copied(context: CheckContext, row: int, other: int, values: int) -> Finding:
    first = str(context.cell("spacings", other, "specimen_id"))
    family = "mains" if context.cell("spacings", row, "family") == "main" else "crosses"
    return Finding(
        "spacings",
        "specimen_id",
        f"the same {values} figures of the {family} as {first}",
        "figures of its own: no two beds read alike to the last digit",
        about=str(context.cell("spacings", row, "specimen_id")),
        rows=(row, *context.first_own("spacings", np.array([other]))),
        keyed=1,
    )


def look_marks(context: CheckContext) -> Iterator[Finding]:
    """A finding for each tester one of whose marks is the same in every playtest, unless others mark so too."""
    if "playtests" not in context.tables:
        return
    data = context.tables["playtests"]
    testers = codes(data["tester_id"])
    specimens = context.tables["specimens"]
    frame_of = np.append(codes(specimens["frame_id"]), -1)
    frame = frame_of[renumber(data["specimen_id"], specimens["specimen_id"].to_pylist())]
    probability = np.stack([_constant(testers, frame, np.asarray(data[name].to_numpy(), dtype=float)) for name in MARKS])
    significant = np.zeros(probability.shape, dtype=bool)
    judged = ~np.isnan(probability)
    significant[judged] = holm(probability[judged], LEVEL)
    for tester in np.flatnonzero(significant.any(axis=0)).tolist():
        names = [name for name, bad in zip(MARKS, significant[:, tester], strict=True) if bad]
        yield _same(context, np.flatnonzero(testers == tester), names)


def _constant(tester: IntArray, frame: IntArray, mark: FloatArray) -> FloatArray:
    """How probable it is that all marks of a tester are the same by chance [testers], judged by how often the other testers
    give their own commonest mark; 1 if they are not the same, NaN if there are too few marks or only one frame.
    """
    testers = int(tester.max(initial=-1)) + 1
    given = ~np.isnan(mark)
    values = np.where(given, mark, 0.0).astype(np.int64) + 3
    counts = sum_by((tester * 7 + values)[given], np.ones(int(given.sum())), testers * 7).reshape(testers, 7)
    total, commonest = counts.sum(axis=1), counts.max(axis=1, initial=0.0)
    frames = distinct(tester[given], frame[given] + 1)
    different = count_by(tester[given][frames.first], testers)
    others = (commonest.sum() - commonest + 1.0) / (total.sum() - total + 2.0)
    chance = others ** np.maximum(total - 1.0, 0.0)
    judged = (total >= PLAYTESTS) & (different > 1)
    return np.where(judged, np.where(commonest == total, chance, 1.0), np.nan)


def _same(context: CheckContext, rows: IntArray, names: list[str]) -> Finding:
    row = int(rows[0])
    tester = str(context.cell("playtests", row, "tester_id"))
    marks = ", ".join(f"{name} {context.cell('playtests', _first_given(context, rows, name), name):g}" for name in names)
    return Finding(
        "playtests",
        names[0],
        f"{tester} gives {marks} in every one of {len(rows):,} playtests",
        "marks that differ from frame to frame, as other testers' do",
        about=tester,
        rows=(_first_given(context, rows, names[0]), *context.first_own("playtests", rows)),
    )


def _first_given(context: CheckContext, rows: IntArray, name: str) -> int:
    return next(int(row) for row in rows if context.cell("playtests", int(row), name) is not None)


SPACINGS = Rule(
    "same-spacings",
    Severity.warning,
    "the same spacings under two specimens",
    "Hands and drills differ by tenths of a millimetre, so no two beds give the same list of figures; one that does was "
    f"copied, or filed under the wrong specimen. Lists with fewer than {DIFFERENT} different gaps are left alone.",
    "common practice, no source",
    "Read this specimen's bed, or take the copied rows out",
    look_spacings,
)
SESSIONS = Rule(
    "same-session",
    Severity.warning,
    "the same figures read twice, throughout",
    "Nobody reads a bed twice to the same hundredth throughout: the second reading was copied from the first, or is the first "
    "under another name, day or number. Such repeats make readings seem surer than they are. By the probability that all "
    "figures agree, from the hand's scatter and the instrument's step, or from how often other people's repeats agree if that "
    f"is more; {100 * LEVEL:g} % over the package (Holm).",
    "Holm 1979, Scandinavian Journal of Statistics 6, 65-70; the rest common practice, no source",
    "Take the second reading out, or read it anew without looking at the first",
    look_sessions,
    follows=("same-spacings", "placeholder", "twin-person"),
)
MARKS_ALIKE = Rule(
    "same-marks",
    Severity.warning,
    "one mark for every frame",
    f"Marks that never differ say nothing of frames. Judged from {PLAYTESTS} playtests on, by how often other testers give "
    f"their own commonest mark; {100 * LEVEL:g} % over all testers and marks together (Holm).",
    "Holm 1979, Scandinavian Journal of Statistics 6, 65-70; levels are common practice, no source",
    "Ask the tester; leave out marks that were not meant",
    look_marks,
)
