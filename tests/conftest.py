"""What the tests share: the import path of a checkout, repeatable property tests, invented worlds and packages."""

from __future__ import annotations

import shutil
import sys
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

import running
from browsing import browser
from effort import FEW, WHOLE

ROOT = Path(__file__).resolve().parents[1]
if str(ROOT / "derive") not in sys.path:
    sys.path.insert(0, str(ROOT / "derive"))

for name, count in (("few", FEW), ("whole", WHOLE)):
    settings.register_profile(
        name,
        derandomize=True,
        deadline=None,
        database=None,
        max_examples=count,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
    )
settings.load_profile("few")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark as slow all cases of a test but the first few that its `slow_after` lets be."""
    seen: Counter[str] = Counter()
    for item in items:
        if after := item.get_closest_marker("slow_after"):
            test = item.nodeid.partition("[")[0]
            seen[test] += 1
            if seen[test] > after.args[0]:
                item.add_marker(pytest.mark.slow)


def pytest_unconfigure() -> None:
    """End what the commands were forked from."""
    running.stop()


@pytest.fixture(scope="session")
def world():
    """The demo's world, known exactly."""
    from inventing.world import make_world

    return make_world()


@pytest.fixture(scope="session")
def many():
    """A world large enough for its spreads to be seen."""
    from inventing.world import make_world

    return make_world(3000, 11)


@pytest.fixture(scope="session")
def package(tmp_path_factory):
    """A package of 200 read copies, written as a benchmark's would be. Not to be written to."""
    import invent

    out = tmp_path_factory.mktemp("packages") / "of-200"
    invent.main(["--specimens", "200", "--seed", "5", "--out", str(out)])
    return out


@pytest.fixture(scope="session")
def catalogue():
    """The demo, opened. Not to be written to."""
    from gapbook import open_catalogue

    return open_catalogue(ROOT)


@pytest.fixture(scope="session")
def scores(catalogue):
    """The demo's scores by frame."""
    return {row["frame_id"]: row for row in catalogue.table("scores").to_pylist()}


@pytest.fixture
def copied(tmp_path):
    """A copy of the demo package to change."""
    folder = tmp_path / "package"
    for name in ("schema", "catalogue"):
        shutil.copytree(ROOT / name, folder / name)
    shutil.copyfile(ROOT / "datapackage.json", folder / "datapackage.json")
    return folder


@pytest.fixture(scope="module")
def atlas(tmp_path_factory):
    """The demo as one page."""
    from gapbook.pictures.atlas import write
    from gapbook.tables.opening import open_package

    return write(open_package(ROOT), tmp_path_factory.mktemp("atlas"))["out"]


@pytest.fixture(scope="module")
def chromium():
    """A real browser; the test is skipped where there is none."""
    with browser() as found:
        yield found


@pytest.fixture(scope="session")
def derived(tmp_path_factory):
    """The folder of a small derived package. Not to be written to."""
    from contributed import package_in

    return package_in(tmp_path_factory.mktemp("derived") / "package").root


@pytest.fixture
def spoilt(tmp_path, derived):
    """A small derived package, opened, to be spoilt."""
    from gapbook.tables.opening import open_package

    return open_package(shutil.copytree(derived, tmp_path / "package"))


@pytest.fixture
def victim(tmp_path):
    """A file of the user's outside the package, which must stay as it is."""
    path = tmp_path / "victim"
    path.write_bytes(b"what is kept elsewhere\n")
    yield path
    assert path.read_bytes() == b"what is kept elsewhere\n"
    assert not path.is_symlink()
