"""What a package's own readings say of people and of strings out of place: by hand, and on invented beds of known spread."""

from __future__ import annotations

import math

import numpy as np
import pytest

from gapbook.science.pooling import MeanGaps, Relaid, between_people, placement
from gapbook.science.repeats import Repeatability
from gapbook.tables import derivation
from gapbook.tables.catalogue import read_catalogue
from gapbook.tables.reader import read_table
from small import Small, marks

DEFAULT = np.array([0.05, 0.05, 0.02])


def read_by(offsets: np.ndarray, parts: int, noise: float, rng: np.random.Generator, kind: int = 0) -> MeanGaps:
    """Everybody reads every part once."""
    part, person = (grid.ravel() for grid in np.meshgrid(np.arange(parts), np.arange(len(offsets)), indexing="ij"))
    value = 10.0 + rng.uniform(0, 3, parts)[part] + offsets[person] + rng.normal(0, noise, len(part))
    return MeanGaps(part, person, np.full(len(part), kind), value)


def test_people_without_noise_by_hand():
    # Offsets -0.1, 0, 0.1 have a variance of 0.01 with 2 degrees of freedom; with 5 of 0.05²: (0.02 + 0.0125)/7. What was seen
    # counts with t of 3 degrees of freedom, 3.182 of the table (JCGM 100:2008, G.2), over 1.960.
    read = read_by(np.array([-0.1, 0.0, 0.1]), 4, 0.0, np.random.default_rng(1), kind=1)
    found = between_people(read, DEFAULT)
    assert found.seen[1] == pytest.approx(0.1)
    assert found.freedom.tolist() == [0.0, 2.0, 0.0]
    assert found.deviation == pytest.approx([0.05, math.sqrt((0.02 * (3.182 / 1.960) ** 2 + 0.0125) / 7), 0.02], rel=1e-3)
    assert found.assumed == pytest.approx([1.0, 5 / 7, 1.0])
    assert np.isnan(found.seen[[0, 2]]).all()


@pytest.mark.parametrize("parts", [0, 1, 2])
def test_too_few_parts_tell_nothing_of_people(parts):
    found = between_people(read_by(np.array([-1.0, 1.0]), parts, 0.01, np.random.default_rng(2)), DEFAULT)
    assert found.deviation == pytest.approx(DEFAULT)


def test_noise_is_not_taken_for_people():
    # 200 studies of 4 people and 6 parts: the variance found is unbiased before it is cut off at zero, so its mean over
    # studies is that of the offsets (5e-4 ± 7 %, two standard errors, and the cut adds a little).
    rng = np.random.default_rng(3)
    seen = [between_people(read_by(rng.normal(0, 0.07, 4), 6, 0.05, rng), DEFAULT).seen[0] ** 2 for _ in range(400)]
    assert np.mean(seen) == pytest.approx(0.07**2, rel=0.1)


def sessions(places: list[np.ndarray], noise: float, rng: np.random.Generator, bed: int) -> list[tuple[float, ...]]:
    """Rows of Relaid for sessions of gaps that read strings at these places."""
    gaps = np.array([np.diff(place) + rng.normal(0, noise, len(place) - 1) + rng.normal(0, 0.2) for place in places])
    away = gaps - gaps.mean(axis=0)
    away -= away.mean(axis=1, keepdims=True)
    return [(bed, bed, float(row @ row), 1 - 1 / len(places), len(row), 0, 0, 1.0, 0.01) for row in away]


def relaid(rows: list[tuple[float, ...]]) -> Relaid:
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    return Relaid(*columns)


KNOWN = Repeatability(np.array([0.1]), np.array([0.0]))
AT_REST = np.cumsum(np.full(18, 12.0))


def test_strings_straightened_anew_tell_how_far_they_lie():
    # 60 beds, two sessions, strings anew at 0.5 mm: about 60·2/3·16 degrees of freedom.
    rng = np.random.default_rng(4)
    rows = []
    for bed in range(60):
        rows += sessions([AT_REST + rng.normal(0, 0.5, 18) for _ in range(2)], 0.1, rng, bed)
    found = placement(relaid(rows), KNOWN)
    assert found.beds == 60
    assert found.deviation == pytest.approx(0.5, rel=0.05)
    assert found.assumed == pytest.approx(20 / (20 + 60 * 16 * 2 / 3), rel=1e-9)  # ½·16·⅔ a session, two sessions a bed


def test_strings_read_where_they_lay_tell_nothing():
    rng = np.random.default_rng(5)
    rows = []
    for bed in range(60):
        rows += sessions([AT_REST + rng.normal(0, 0.5, 18)] * 3, 0.1, rng, bed)
    found = placement(relaid(rows), KNOWN)
    assert (found.beds, found.deviation, found.assumed) == (0, pytest.approx(0.3), 1.0)


def test_no_sessions_tell_nothing():
    none = np.zeros(0, dtype=np.int64)
    assert placement(Relaid(*[none] * 9), KNOWN).deviation == pytest.approx(0.3)


def test_one_bed_by_hand():
    # Three strings, two gaps, two sessions: 10, 14 and 12, 10. Less the mean of sessions (11, 12): -1, 2 and 1, -2; less their
    # own mean: -1.5, 1.5 and 1.5, -1.5, squares 4.5 each. Two gaps beside each other have, for strings out of place by s, a
    # variance of 2s² each and a covariance of -s², so about their mean 3s² together. Half of it counts in each session: 3s².
    # Reading: 0.1² about the mean, half in each: 0.01. Seen: (9 - 0.01)/3, with ⅔·½·1·2 degrees of freedom.
    found = placement(relaid([(0, 0, 4.5, 0.5, 2.0, 0, 0, 1.0, 0.0)] * 2), KNOWN)
    assert found.beds == 1
    assert found.deviation == pytest.approx(math.sqrt((8.99 / 3 * (2 / 3) + 20 * 0.09) / (20 + 2 / 3)), rel=1e-9)


def test_the_derivation_lays_sessions_side_by_side():
    # The same of 9 gaps of 12 mm, two of which another session reads 1 mm wider and 1 mm narrower: squares of ½·½·4 in each.
    small = Small()
    small.frame("one", 10, 10)
    small.copy("one-a", "one")
    small.run("one-a", "main", [12] * 9)
    small.run("one-a", "main", [12, 12, 13, 12, 11, 12, 12, 12, 12], contributor_id="ole")
    small.run("one-a", "cross", [12] * 9)

    def pooled(package):
        catalogue = read_catalogue(package)
        return derivation.gather(package, catalogue, read_table(package, "spacings")).pooled

    found = small.inspect(pooled)
    reading = 0.1**2 + 0.01**2 / 12  # 0.1 mm with a calliper of 0.01 mm, assumed
    seen = (1.0 - 8 * reading) / (2 * 9 - 2 / 9)
    degrees = 2 / 3 * 8
    assert found.placement.beds == 1
    assert found.placement.deviation == pytest.approx(math.sqrt((degrees * seen + 20 * 0.09) / (20 + degrees)), rel=1e-9)
    assert found.people.deviation[:3] == pytest.approx(DEFAULT)  # one part only


def test_the_derivation_asks_the_gauge_study_for_people():
    """Ten beds that two people read, with a rule and with a calliper; the second reads every gap 0.2 and 0.1 mm wider."""
    small, rng = Small(), np.random.default_rng(6)
    small.frame("one")
    for number in range(10):
        name = f"one-{'abcdefghij'[number]}"
        small.copy(name, "one")
        for family, strings in (("main", 16), ("cross", 19)):
            gaps = 12.0 + rng.uniform(-1, 1, strings - 1)
            for person, wider, longer in (("ida", 0.0, 0.0), ("ole", 0.1, 0.2)):
                small.run(name, family, [f"{gap + wider:.3f}" for gap in gaps], contributor_id=person)
                laid = [f"{mark:.3f}" for mark in marks((gaps + longer).tolist())]
                small.run(name, family, laid, kind="mark", contributor_id=person)

    def people(package):
        catalogue = read_catalogue(package)
        return derivation.gather(package, catalogue, read_table(package, "spacings")).pooled.people

    found = small.inspect(people)
    # Two people 0.1 apart: a variance of 0.005 with one degree of freedom; 0.2 apart: 0.02. t of 2 degrees of freedom is 4.303.
    assert found.seen[:2] == pytest.approx([math.sqrt(0.005), math.sqrt(0.02)], rel=1e-3)
    assert found.deviation[:2] == pytest.approx(
        [math.sqrt((v * (4.303 / 1.960) ** 2 + 0.0125) / 6) for v in (0.005, 0.02)], rel=1e-3
    )
