"""Invents the demo catalogue: a loan rack of tennis frames in a country that is on no map.

The Vessary Valley Loan Rack (invented, like everybody and everything in it) lends frames to the five village clubs
of the Vessary, in Orlaine, which no train reaches. The post bus carries the rack from club to club; members take a
frame for a fortnight and bring it back. Its makers are small and print a head size and a string count at most, so the
question at the desk is always the same: which of these has a bed like mine, only a little tighter? Since April 2023
seven members put a calliper, a rule or a photograph to every frame that passes through their hands, and twelve others
play the frames and write down what came of it.

Plain cases of the trade's rules, for the tests and for curious readers:

- `fern-98`: 98 sq in, 16x19, middling tight in the centre; three copies. Clearly tighter with 16 mains on 95 to
  98 sq in are `moraine-98`, `thistle-95`, `scree-97`, `sorrel-98-club`; too close to call are `bracken-98`,
  `rowan-97`, `juniper-95`; `willow-98` and `gorse-98` are more open.
- `moraine-98`, a closely drilled 16x19, is as tight in the centre as the 18x20 `drumlin-98`, and opens to the sides.
- `squall-100` and `meadow-100` are both 16x19 on 100 sq in; `squall-100` is plainly the tighter in the centre.
- `tarn-95` and `tarn-100` have the same 18x20, drilled alike on 95 and on 100 sq in: tighter on the smaller head.
- `burdock-89` is the old dense one, 20x21; `yarrow-100` the open one, 16x15.

`python derive/invent.py` writes catalogue/ anew, the same bytes each time. With --specimens, --seed and --out it
writes a whole package of that many read copies elsewhere, for benchmarks: the demo's rack first, then further rounds
of it with every design redrawn. What is true of a package stands in `inventing.world.make_world(specimens, seed)`,
the sizes of the planted playtest effects in `inventing.play`.
"""

from __future__ import annotations

import argparse
import json
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path

from inventing.rack import MEASURED
from inventing.streams import SEED
from inventing.tables import header, write_catalogue
from inventing.world import make_world

ROOT = Path(__file__).resolve().parents[1]
MOST = 200_000
"""Copies a package may be asked to hold."""


def write_package(out: Path, specimens: int = MEASURED, seed: int = SEED) -> None:
    """Write a whole package into the new or empty folder `out`. Tables of which nothing is invented, derived ones and logs,
    hold their headers only.
    """
    (out / "catalogue" / "derived").mkdir(parents=True)
    shutil.copyfile(ROOT / "datapackage.json", out / "datapackage.json")
    shutil.copytree(ROOT / "schema", out / "schema")
    write_catalogue(make_world(specimens, seed), ROOT / "schema", out / "catalogue")
    for resource in json.loads((out / "datapackage.json").read_text(encoding="utf-8"))["resources"]:
        if not (out / resource["path"]).exists():
            line = ",".join(header(out / "schema", resource["name"])) + "\n"
            (out / resource["path"]).write_bytes(line.encode())


def _arguments(argv: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        description="Write the invented demo catalogue into catalogue/, or a larger package elsewhere."
    )
    parser.add_argument("--specimens", type=int, default=MEASURED, metavar="N", help="copies whose bed is read")
    parser.add_argument("--seed", type=int, default=SEED, metavar="S", help="seed of the random numbers")
    parser.add_argument("--out", type=Path, metavar="DIR", help="new or empty folder for a whole package")
    given = parser.parse_args(argv)
    if not 1 <= given.specimens <= MOST:
        parser.error(f"--specimens must be from 1 to {MOST}, not {given.specimens}")
    if not 0 <= given.seed < 2**32:
        parser.error(f"--seed must be from 0 to {2**32 - 1}, not {given.seed}")
    if given.out is None and (given.specimens, given.seed) != (MEASURED, SEED):
        parser.error("catalogue/ holds the demo only; to invent another package, name a folder with --out")
    if given.out is not None and given.out.exists() and (not given.out.is_dir() or any(given.out.iterdir())):
        parser.error(f"--out must be a new or empty folder, and {given.out} is not")
    return given


def main(argv: Sequence[str] | None = None) -> None:
    """Command line: see the module."""
    given = _arguments(argv)
    if given.out is None:
        write_catalogue(make_world(), ROOT / "schema", ROOT / "catalogue")
        return
    try:
        write_package(given.out, given.specimens, given.seed)
    except OSError as error:
        sys.stderr.write(f"invent.py: {given.out} cannot be written: {error.strerror or error}\n")
        raise SystemExit(2) from None
    print(f"Run gapbook derive --package {given.out}")


if __name__ == "__main__":
    main()
