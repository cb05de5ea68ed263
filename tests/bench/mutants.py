"""Do the tests notice if a line of science/ is changed? A kept mutation tool (mutmut) changes it; the tests must fail.

`python -m tests.bench --mutants [--sample N] [--seed S] [--modules lines,scores]` (N = 0 for all) copies the checkout into a
temporary folder, lets mutmut make all mutants of science/, draws a sample and runs for each the fast tests that reach the
changed function. Mutants that no test can tell from the original stand in `mutants_equivalent.toml`, each with the reason.
mutmut changes what functions do, not constants of modules.
"""

from __future__ import annotations

import fnmatch
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SAMPLE, SEED = 200, 1
EQUIVALENT = Path(__file__).with_name("mutants_equivalent.toml")
TESTS = (
    "test_beds_of_truth", "test_comparison", "test_counted", "test_gauge", "test_grouping", "test_handling", "test_lines",
    "test_mechanics", "test_mechanics_membranes", "test_mechanics_table", "test_mechanics_uncertainty", "test_oracle",
    "test_oracle_small", "test_outline", "test_plain", "test_plain_frames", "test_plain_propagation",
    "test_relation_edges", "test_relation_values", "test_repeats", "test_rules_body", "test_rules_misread",
    "test_rules_quality", "test_rules_science", "test_rules_sessions", "test_scores_wire", "test_sessions",
    "test_statistics", "test_uncertainty", "test_units", "test_zones",
)  # fmt: skip
"""Tests that hold science/ to values from outside, or whole derivations and checks to it. mutmut finds out which reach what."""
SETTINGS = """
[tool.pytest.ini_options]
testpaths = ["tests"]
pythonpath = ["src", "derive", "tests"]
addopts = "-q --strict-markers -m 'not slow' -p no:cacheprovider"
markers = {markers}

[tool.mutmut]
source_paths = ["src/"]
only_mutate = ["src/gapbook/science/*"]
also_copy = ["derive", "catalogue", "schema", "datapackage.json", "README.md", "DEVELOPERS.md"]
pytest_add_cli_args_test_selection = {tests}
process_isolation = "forkserver"
use_git_change_detection = false
track_dependencies = false
debug = true
"""
KILLED, SURVIVED, UNTESTED = "killed", "survived", "no test reaches it"


def copy_checkout(folder: Path) -> None:
    """A copy of the checkout as mutmut wants it: the package under src/ as if installed, apart from what invents the demo."""
    shutil.copytree(ROOT / "derive" / "gapbook", folder / "src" / "gapbook", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(ROOT / "derive", folder / "derive", ignore=shutil.ignore_patterns("gapbook", "__pycache__"))
    for name in ("tests", "catalogue", "schema"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("datapackage.json", "README.md", "DEVELOPERS.md"):
        shutil.copyfile(ROOT / name, folder / name)
    installed = folder / "src" / "gapbook" / "package"
    for name in ("catalogue", "schema"):
        shutil.copytree(ROOT / name, installed / name)
    shutil.copyfile(ROOT / "datapackage.json", installed / "datapackage.json")
    known = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["pytest"]["ini_options"]["markers"]
    tests = [f"tests/{name}.py" for name in TESTS if (ROOT / "tests" / f"{name}.py").exists()]
    text = SETTINGS.format(markers=json.dumps(known), tests=json.dumps(tests))
    (folder / "pyproject.toml").write_text(text, encoding="utf-8")


def mutmut(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run mutmut in a copy of the checkout."""
    environment = {**os.environ, "PYTHONPATH": str(folder / "mutants" / "src")}  # what a test starts runs the mutants too
    command = [sys.executable, "-m", "mutmut", *arguments]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, env=environment)


def outcomes(folder: Path) -> dict[str, int | None]:
    """The exit status of the tests by mutant, None if it was not run."""
    found: dict[str, int | None] = {}
    for path in sorted((folder / "mutants" / "src" / "gapbook" / "science").glob("*.meta")):
        found |= json.loads(path.read_text(encoding="utf-8"))["exit_code_by_key"]
    return found


def says(status: int | None) -> str:
    """What an exit status means: 0 is a survivor; failed tests and tests that never end are kills."""
    return SURVIVED if status == 0 else UNTESTED if status in (5, 33, None) else KILLED


def equivalent(folder: Path, name: str, known: Iterable[dict[str, str]]) -> str | None:
    """Why a mutant is equivalent, if it is known to be: the change it makes stands in the list, under its function."""
    change = mutmut(folder, "show", name).stdout
    lines = [line[1:].strip() for line in change.splitlines() if line[:1] in "+-" and line[:3] not in ("+++", "---")]
    for one in known:
        if fnmatch.fnmatch(name, f"gapbook.science.{one['where']}__mutmut_*") and one["was"] in lines and one["is"] in lines:
            return one["why"]
    return None


def bench_mutants(sample: int | None, seed: int, modules: list[str]) -> int:
    """Print survivors and the rate; 0 if at least 98 % of those that are not equivalent were killed.

    sample: how many; None for all, which takes hours
    seed: of the sample
    modules: of science/; none for all
    """
    known = tomllib.loads(EQUIVALENT.read_text(encoding="utf-8"))["equivalent"]
    with tempfile.TemporaryDirectory(prefix="gapbook-mutants-") as scratch:
        folder = Path(scratch)
        copy_checkout(folder)
        said = mutmut(folder, "run", "none-of-them")  # makes the mutants, and finds which tests reach which function
        names = [name for name in outcomes(folder) if not modules or name.split(".")[2] in modules]
        if not names or "failed to collect stats" in said.stdout:
            raise SystemExit(f"mutmut could not begin:\n{said.stdout[-5000:]}\n{said.stderr[-3000:]}")
        drawn = sorted(names) if sample is None else sorted(random.Random(seed).sample(sorted(names), min(sample, len(names))))
        print(f"{len(drawn)} of {len(names)} mutants of science/, seed {seed}", flush=True)
        said = mutmut(folder, "run", *drawn)
        found = {name: says(outcomes(folder)[name]) for name in drawn}
        if not any(state != UNTESTED for state in found.values()):
            raise SystemExit(f"mutmut ran nothing:\n{said.stdout[-3000:]}\n{said.stderr[-3000:]}")
        same = Counter[str]()
        for name, state in found.items():
            if state == KILLED:
                continue
            why = equivalent(folder, name, known)
            same[name.split(".")[2]] += why is not None
            print(
                f"\n{state}{', equivalent: ' + why if why else ''}: {name}\n{mutmut(folder, 'show', name).stdout}", flush=True
            )
    return _rates(found, same)


def _rates(found: dict[str, str], same: Counter[str]) -> int:
    """Print kills by module and in all."""
    by_module: dict[str, Counter[str]] = {}
    for name, state in found.items():
        by_module.setdefault(name.split(".")[2], Counter())[state] += 1
    for module, counts in sorted(by_module.items()):
        others = counts.total() - same[module]
        print(f"{module:20} {counts[KILLED]:4} of {others:4} killed, {same[module]} equivalent")
    killed = sum(counts[KILLED] for counts in by_module.values())
    others = len(found) - same.total()
    rate = killed / others if others else 1.0
    print(f"killed: {killed} of {others} that are not equivalent, {100 * rate:.1f} % (asked: 98 %)")
    return 0 if rate >= 0.98 else 1
