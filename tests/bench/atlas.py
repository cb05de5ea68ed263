"""`python -m bench.atlas [PACKAGE]`, with derive/ and tests/ on the path: how soon a page of 5,000 frames shows a change.

Without a package it invents one of 6,380 copies, which are 5,344 frames. Each change of the question is timed from the
field's event to the first task after the frame that paints it, in headless Chromium; nothing else should run meanwhile.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
from pathlib import Path

from browsing import browser, opened
from gapbook.pictures.atlas import write
from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package

COPIES = 6380
ROUNDS = 10
CHANGES = (
    ("head_low", "95"), ("head_high", "100"), ("head_low", ""), ("head_high", ""), ("mass_low", "300"), ("mass_low", ""),
    ("swing_high", "330"), ("swing_high", ""), ("relation", "tighter"), ("relation", "all"), ("basis", "measured"),
    ("basis", "any"), ("zone", "sides"), ("zone", "centre"), ("confidence", "80"), ("confidence", "95"),
)  # fmt: skip
TIMED = """async ([name, value]) => {
    const painted = () => new Promise((done) => requestAnimationFrame(() => {
        const channel = new MessageChannel();
        channel.port1.onmessage = () => done(performance.now());
        channel.port2.postMessage(0);
    }));
    await painted();
    await painted();
    const field = document.getElementById("question").elements[name];
    field.value = value;
    const start = performance.now();
    field.dispatchEvent(new Event("input", { bubbles: true }));
    const computed = performance.now();
    return [computed - start, (await painted()) - start];
}"""


def bench_atlas(package: Path) -> None:
    """Print the size of the page and the times of its changes."""
    with tempfile.TemporaryDirectory(prefix="gapbook-atlas-") as scratch, browser() as chromium:
        found = write(open_package(package), Path(scratch))
        print(f"atlas of {found['frames']:,} frames, {found['beds']:,} beds: {found['bytes'] / 1e6:.2f} MB")
        with opened(chromium, found["out"], "against=fern-98") as page:
            for change in CHANGES:  # once to warm up
                page.evaluate(TIMED, change)
            taken = [page.evaluate(TIMED, change) for _ in range(ROUNDS) for change in CHANGES]
    for what, number in (("computed", 0), ("painted", 1)):
        times = sorted(one[number] for one in taken)
        told = (
            f"median {statistics.median(times):.0f} ms, 95th of 100 {times[int(0.95 * len(times))]:.0f}, worst {times[-1]:.0f}"
        )
        print(f"a change {what}: {told}, least {times[0]:.0f}, over {len(times)} changes")


def main() -> None:
    """Run on the package named, or on one invented for it."""
    if len(sys.argv) > 1:
        bench_atlas(Path(sys.argv[1]))
        return
    import invent

    with tempfile.TemporaryDirectory(prefix="gapbook-atlas-") as scratch:
        package = Path(scratch) / "package"
        invent.write_package(package, COPIES, 3)
        derive(open_package(package))
        bench_atlas(package)


if __name__ == "__main__":
    main()
