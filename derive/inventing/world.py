"""The whole invented world of a package, known exactly: frames, copies, instruments. Nothing in it has been read."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from inventing.bodies import BED_G, BED_SD_G, Bodies, draw_bodies, draw_copies
from inventing.people import INSTRUMENTS
from inventing.protocols import PROTOCOLS, Runs, first_days, lay_runs
from inventing.rack import MEASURED, RACK, Model
from inventing.streams import SEED, stream
from inventing.truth import Beds, draw_beds, draw_designs, place_strings, true_scores

REDRAWN_SD = 0.02
"""How far a further round of the rack drills from the first, main and cross each [1]."""


class World(NamedTuple):
    """Frames (F), copies (S) and instruments (I) as they are.

    `models` (F) are the rows of the rack, `frame_ids` (F) their ids; `frame_of` (S) is a copy's row among the frames,
    `copy_ids` (S) its specimen_id, `read` (S) whether its bed was read. `designs` are the frames' beds, `beds` the
    copies' rest beds, `placed` (S, 20) and (S, 21) how far their strings stand from rest [mm]; `design_bodies` and
    `bodies` are strung, `bed_g` (S) the mass of a copy's bed [g]. `offsets` are the true errors of the
    instruments (I), or of each instrument at each copy (S, I), in mm, cm², g, or kg·cm². `runs` say how the beds are
    read; `days` (S) when each was first.
    """

    seed: int
    models: list[Model]
    frame_ids: list[str]
    frame_of: np.ndarray
    copy_ids: list[str]
    read: np.ndarray
    designs: Beds
    beds: Beds
    placed: tuple[np.ndarray, np.ndarray]
    design_bodies: Bodies
    bodies: Bodies
    bed_g: np.ndarray
    offsets: np.ndarray
    runs: Runs
    days: np.ndarray

    def offset_of(self, copy: np.ndarray, instrument: np.ndarray) -> np.ndarray:
        """The true error of each reading of a `copy` with an `instrument`, rows of both (R,)."""
        return self.offsets[instrument] if self.offsets.ndim == 1 else self.offsets[copy, instrument]

    def scores(self) -> dict[str, np.ndarray]:
        """True scores of the copies (S,), see inventing.truth.true_scores."""
        return true_scores(self.beds)

    def frame_scores(self) -> dict[str, np.ndarray]:
        """True scores of the frames as designed (F,)."""
        return true_scores(self.designs)


def _hang(measured: int) -> tuple[list[Model], list[str], list[int], list[str], list[bool]]:
    """The rack, hung again and again until `measured` copies with a read bed are in it."""
    models: list[Model] = []
    frame_ids: list[str] = []
    frame_of: list[int] = []
    copy_ids: list[str] = []
    read: list[bool] = []
    left, turn = measured, 0
    while left > 0:
        for model in RACK:
            frame_id = f"{model.frame_id}-{turn:04d}" if turn else model.frame_id
            for copy in range(model.read + model.unread):
                is_read = copy < model.read
                if is_read and left == 0:
                    continue
                left -= is_read
                frame_of.append(len(models))
                copy_ids.append(f"{frame_id}-{'abcdef'[copy]}")
                read.append(is_read)
            models.append(model)
            frame_ids.append(frame_id)
            if left == 0 and turn:
                break
        turn += 1
    return models, frame_ids, frame_of, copy_ids, read


def _targets(seed: int, models: list[Model]) -> tuple[np.ndarray, np.ndarray]:
    """Centre pitches each frame is drilled for [mm]: the rack's own in its first round, redrawn after that."""
    rng = stream(seed, "targets")
    asked = np.array([(model.main, model.cross) for model in models])
    redrawn = np.exp(np.clip(rng.normal(0.0, REDRAWN_SD, asked.shape), -0.045, 0.045))
    redrawn[: len(RACK)] = 1.0
    main, cross = (asked * redrawn).T
    return main, cross


def make_world(specimens: int = MEASURED, seed: int = SEED) -> World:
    """The invented world with this many read copies: the demo's rack first, then redrawn rounds of it."""
    models, frame_ids, frame_of, copy_ids, read = _hang(specimens)
    rows, is_read = np.array(frame_of), np.array(read)
    m, c, size = np.array([(model.mains, model.crosses, model.square_inches) for model in models]).T
    designs = draw_designs(stream(seed, "designs"), m, c, size, *_targets(seed, models))
    beds = draw_beds(stream(seed, "beds"), designs.take(rows))
    rng = stream(seed, "bodies")
    design_bodies = draw_bodies(rng, size, [model.edition == "club" for model in models])
    bodies = draw_copies(rng, design_bodies.take(rows))
    limits = np.array([instrument.limit for instrument in INSTRUMENTS])
    plans = (np.cumsum(is_read) - 1) % len(PROTOCOLS)
    released = np.array([model.released for model in models])[rows]
    days = first_days(stream(seed, "days"), plans, released)
    chosen = np.flatnonzero(is_read)
    return World(
        seed=seed,
        models=models,
        frame_ids=frame_ids,
        frame_of=rows,
        copy_ids=copy_ids,
        read=is_read,
        designs=designs,
        beds=beds,
        placed=place_strings(stream(seed, "placement"), beds),
        design_bodies=design_bodies,
        bodies=bodies,
        bed_g=BED_G + rng.normal(0.0, BED_SD_G, len(rows)),
        offsets=limits * stream(seed, "instruments").uniform(-1, 1, len(limits)),
        runs=lay_runs(chosen, plans[chosen], days[chosen]),
        days=days,
    )
