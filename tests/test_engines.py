"""A derivation over several processes: the same bytes and the same errors as in one, and nothing of it left behind."""

from __future__ import annotations

import multiprocessing
import multiprocessing.spawn
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

import slow
from gapbook.errors import GapbookError
from gapbook.tables import derived, engines, spacings
from gapbook.tables.opening import open_package

ROOT = Path(__file__).resolve().parents[1]
TABLES = ("beds", "scores", "handling", "mechanics")
Lines = list[str]
posix = pytest.mark.skipif(os.name == "nt", reason="signals are sent otherwise there")


def tables(folder: Path) -> dict[str, bytes]:
    return {name: (folder / "catalogue" / "derived" / f"{name}.csv").read_bytes() for name in TABLES}


def gone(folder: Path) -> None:
    for name in TABLES:
        (folder / "catalogue" / "derived" / f"{name}.csv").unlink()


# The engine alone


@pytest.mark.slow_after(2)
@pytest.mark.parametrize("workers", [1, 2, 3])
def test_answers_come_in_the_order_of_the_items(workers):
    with engines.engine(workers) as mapped:
        assert list(mapped(slow.doubled, range(20))) == list(range(0, 40, 2))
        assert list(mapped(slow.doubled, [])) == []
    assert not multiprocessing.active_children()


def test_a_process_uses_one_thread_for_arrow_and_for_linear_algebra():
    with engines.engine(2) as mapped:
        assert set(mapped(slow.threads, range(4))) == {(1, 1)}
    assert os.environ.get("PYTHONSAFEPATH") is None


def test_what_a_function_raises_is_raised_and_nobody_is_left():
    with pytest.raises(ValueError, match="no twos"), engines.engine(2) as mapped:
        list(mapped(slow.refuses, range(4)))
    assert not multiprocessing.active_children()


def test_a_process_that_is_lost_only_makes_it_take_longer():
    with engines.engine(2) as mapped:
        assert list(mapped(slow.dies, range(8))) == list(range(0, 16, 2))
        assert list(mapped(slow.doubled, range(3))) == [0, 2, 4]  # nobody is there any more
    assert not multiprocessing.active_children()


@pytest.mark.slow
def test_processes_that_never_start_only_make_it_take_longer(tmp_path):
    with engines.engine(2):
        pass  # what keeps count of semaphores is started once for all
    executable = multiprocessing.spawn.get_executable()
    multiprocessing.set_executable(str(tmp_path / "no-such-program"))
    try:
        with engines.engine(2) as mapped:
            assert list(mapped(slow.doubled, range(4))) == [0, 2, 4, 6]
    finally:
        multiprocessing.set_executable(executable)


def test_a_system_without_semaphores_only_makes_it_take_longer(monkeypatch):
    def refuse(*given: object) -> None:
        raise OSError(38, "Function not implemented")

    monkeypatch.setattr(engines, "ProcessPoolExecutor", refuse)
    with engines.engine(2) as mapped:
        assert list(mapped(slow.doubled, range(4))) == [0, 2, 4, 6]


SCRIPT = """
print("begun")
from gapbook.tables.engines import engine
import slow
with engine(2) as mapped:
    print(list(mapped(slow.doubled, range(4))))
"""


@pytest.mark.slow
def test_the_program_that_calls_it_is_not_run_again_nor_a_module_that_lies_about(tmp_path):
    (tmp_path / "program.py").write_text(SCRIPT, encoding="utf-8")
    folder = tmp_path / "folder"
    folder.mkdir()
    for name in ("json", "socket", "pickle"):
        (folder / f"{name}.py").write_text("open('ran', 'w'); raise SystemExit(1)", encoding="utf-8")
    ran = subprocess.run(
        [sys.executable, str(tmp_path / "program.py")],
        cwd=folder, env=environment(tmp_path), capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    assert (ran.stdout, ran.stderr) == ("begun\n[0, 2, 4, 6]\n", "")
    assert not (folder / "ran").exists()


def environment(told: Path) -> dict[str, str]:
    paths = os.pathsep.join((str(ROOT / "derive"), str(ROOT / "tests")))
    return {**os.environ, "PYTHONPATH": paths, "GAPBOOK_TEST_TOLD": str(told)}


# Derivations


@pytest.mark.slow_after(2)
@pytest.mark.parametrize(("workers", "rows"), [(1, 150_000), (1, 700), (2, 700), (3, 300)])
def test_the_bytes_are_the_same_however_it_is_shared(copied, monkeypatch, workers, rows):
    kept = tables(copied)
    gone(copied)
    monkeypatch.setattr(spacings, "ROWS", rows)
    derived.derive(open_package(copied), workers=workers)
    assert tables(copied) == kept


@pytest.mark.parametrize(
    ("parts", "size", "cores", "workers"),
    [
        (["beds", "mechanics"], 100, 4, 4),
        (["mechanics"], 100, 64, engines.MOST),
        (["beds"], 100, 4, 1),
        (["mechanics"], 99, 4, 1),
        (["mechanics"], 100, 1, 1),
    ],
)
def test_processes_are_started_where_it_is_worth_while(copied, monkeypatch, parts, size, cores, workers):
    monkeypatch.setattr(engines, "WORTH_SHARING", 100)
    monkeypatch.setattr(engines, "cores", lambda: cores)
    package = open_package(copied)
    package.path("spacings").write_bytes(b"." * size)
    assert engines.workers_for(package, parts) == workers


def rewritten(folder: Path, change: Callable[[Lines], object], end: str = "\n") -> None:
    path = folder / "catalogue" / "spacings.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    change(lines)
    path.write_bytes("".join(line + end for line in lines).encode())


def cell(line: int, column: int, text: str) -> Callable[[Lines], None]:
    """Write another text into a cell; line 1 is the header."""

    def change(lines: Lines) -> None:
        cells = lines[line - 1].split(",")
        cells[column] = text
        lines[line - 1] = ",".join(cells)

    return change


def again(line: int, below: int) -> Callable[[Lines], None]:
    return lambda lines: lines.insert(below, lines[line - 1])


def renamed(lines: Lines) -> None:
    lines[1:] = [line.replace(",ilsa-quarrow,", ",nobody,") for line in lines[1:]]


COLUMNS = ("specimen_id", "family", "station_mm", "kind", "no", "contributor_id", "instrument_id", "taken_on", "repeat")
VALUE, UNIT = 9, 10
BROKEN = {
    "a word for a number": (cell(500, VALUE, "wide"), "type"),
    "not a number": (cell(500, VALUE, "nan"), "type"),
    "a gap of nothing": (cell(500, VALUE, "0"), "gap-not-positive"),
    "an unknown specimen": (cell(500, COLUMNS.index("specimen_id"), "nobodys-98-a"), "reference"),
    "an unknown contributor throughout": (renamed, "reference"),
    "an unknown unit": (cell(500, UNIT, "ells"), "unit-unknown"),
    "a mass": (cell(500, UNIT, "g"), "unit-dimension"),
    "a cell too many": (cell(500, UNIT, "mm,mm"), "width"),
    "a reading given twice": (again(500, 500), "repeated-key"),
    "a reading given again far below": (again(500, 6000), "repeated-key"),
    "a reading left out": (lambda lines: lines.pop(499), "missing-numbers"),
    "another header": (cell(1, VALUE, "reading"), "header"),
}


@pytest.mark.slow_after(3)
@pytest.mark.parametrize(("change", "code"), BROKEN.values(), ids=BROKEN)
def test_what_is_wrong_is_told_alike_however_it_is_shared(copied, monkeypatch, change, code):
    rewritten(copied, change)
    before = tables(copied)
    told = []
    for rows, workers in ((150_000, 1), (700, 1), *(((700, 2),) if code == "missing-numbers" else ())):
        monkeypatch.setattr(spacings, "ROWS", rows)
        with pytest.raises(GapbookError) as stop:
            derived.derive(open_package(copied), workers=workers)
        told.append(stop.value.problems)
    assert told[0][0].code == code
    assert all(problems == told[0] for problems in told)
    assert tables(copied) == before
    assert not multiprocessing.active_children()


def shuffled(lines: Lines) -> None:
    rows = lines[1:]
    random.Random(7).shuffle(rows)
    lines[1:] = rows


def second_session_at_the_end(lines: Lines) -> None:
    """As after an admission: the last readings of the first specimen stand below all others."""
    first = lines[1].split(",")[0]
    own = [line for line in lines[1:] if line.startswith(f"{first},")]
    later = own[len(own) // 2 :]
    lines[1:] = [line for line in lines[1:] if line not in later] + later


def quoted(lines: Lines) -> None:
    lines[499] = '"' + '","'.join(lines[499].split(",")) + '"'


ALIKE = {
    "rows in any order": (shuffled, "\n"),
    "a specimen's rows far apart": (second_session_at_the_end, "\n"),
    "a row in quotation marks": (quoted, "\n"),
    "lines ended as elsewhere": (lambda lines: None, "\r\n"),
    "a blank line": (lambda lines: lines.insert(300, ""), "\n"),
}


@pytest.mark.slow_after(3)
@pytest.mark.parametrize(("change", "end"), ALIKE.values(), ids=ALIKE)
def test_other_ways_to_write_the_same_give_the_same(copied, monkeypatch, change, end):
    kept = tables(copied)
    rewritten(copied, change, end)
    monkeypatch.setattr(spacings, "ROWS", 700)
    derived.derive(open_package(copied), ["beds"])
    assert tables(copied) == kept


def test_no_rows_at_all_are_shared_too(copied):
    rewritten(copied, lambda lines: lines.__delitem__(slice(1, None)))
    found = derived.derive(open_package(copied), workers=2)
    assert (found["beds"], found["mechanics"]) == (0, 0)


# How it ends

AT_WORK = """
import sys
import slow
from gapbook.commands import app
from gapbook.tables import derivation, engines, spacings

engines.WORTH_SHARING, engines.cores, spacings.ROWS = 0, lambda: 2, 700
derivation.measure = slow.asleep
sys.argv = ["gapbook", "derive", "--package", sys.argv[1]]
app.main()
"""


def ended_by(copied: Path, told: Path, end: Callable[[int], None]) -> tuple[int, str]:
    """How a derivation ends while it and both its processes are at work, and what it says; `end` gets its number."""
    told.mkdir()
    command = [sys.executable, "-c", AT_WORK, str(copied)]
    with subprocess.Popen(
        command, stderr=subprocess.PIPE, text=True, env=environment(told), start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),  # ignored in the background
    ) as running:  # fmt: skip
        wait_until(lambda: len(list(told.iterdir())) == 3)
        end(running.pid)
        said = running.communicate(timeout=60)[1]
    wait_until(lambda: not any(alive(int(path.name)) for path in told.iterdir()))
    return running.returncode, said


def wait_until(so: Callable[[], bool]) -> None:
    patience = time.monotonic() + 60
    while not so():
        assert time.monotonic() < patience
        time.sleep(0.02)


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


@posix
@pytest.mark.slow_after(1)
@pytest.mark.parametrize("how", ["interrupt of all", "interrupt of one", "terminate"])
def test_an_interrupt_ends_everybody_without_a_word(copied, tmp_path, how):
    before = state(copied)
    send = {
        "interrupt of all": lambda pid: os.killpg(pid, signal.SIGINT),
        "interrupt of one": lambda pid: os.kill(pid, signal.SIGINT),
        "terminate": lambda pid: os.kill(pid, signal.SIGTERM),
    }
    assert ended_by(copied, tmp_path / "told", send[how]) == (130, "")
    assert state(copied) == before


@posix
@pytest.mark.slow
def test_nobody_outlives_a_derivation_that_is_killed(copied, tmp_path):
    code, _ = ended_by(copied, tmp_path / "told", lambda pid: os.kill(pid, signal.SIGKILL))
    assert code == -signal.SIGKILL
    derived.derive(open_package(copied), ["handling"])  # the lock is free


def state(folder: Path) -> dict[str, bytes]:
    """Every file of a package."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


STARTING = """
import os, signal, sys
from gapbook.commands import app
from gapbook.tables import derivation, engines

class Interrupted(engines.ProcessPoolExecutor):
    def submit(self, *given):
        try:
            return super().submit(*given)
        finally:
            interrupt()

def interrupt(*given):
    os.killpg(0, signal.SIGINT)

engines.WORTH_SHARING, engines.cores = 0, lambda: 2
if sys.argv[2] == "started":
    derivation.gather = interrupt
else:
    engines.ProcessPoolExecutor = Interrupted
sys.argv = ["gapbook", "derive", "--package", sys.argv[1]]
app.main()
"""


@posix
@pytest.mark.slow_after(1)
@pytest.mark.parametrize("when", ["are started", "started"])
def test_an_interrupt_while_processes_start(copied, when):
    """They still import when everybody is interrupted."""
    before = state(copied)
    ran = subprocess.run(
        [sys.executable, "-c", STARTING, str(copied), when], capture_output=True, text=True, env=environment(copied),
        start_new_session=True, preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL), timeout=60,
    )  # fmt: skip
    assert (ran.returncode, ran.stdout, ran.stderr) == (130, "", "")
    assert state(copied) == before
