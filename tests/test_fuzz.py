"""Bytes of tables, descriptor and schemas flipped, cut, doubled and stuffed: a check ends in findings or in a plain refusal,
never in a traceback, never in a hang, and reads nothing outside the folder.
"""

from __future__ import annotations

import json
import random
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pyarrow
import pytest

from gapbook.errors import GapbookError
from gapbook.intake.check import check_layers
from gapbook.intake.layers import contribution_layer
from gapbook.intake.rules import RULES
from gapbook.tables.opening import open_package
from gapbook.tables.package import RAW_TABLES
from structured import Broken

SEEDS = range(60)
PATIENCE = 30
"""Seconds after which a check counts as hung."""
NASTY = (
    b"\x00", b"\xff", b"\xfe\xff", b"\xef\xbb\xbf", b"\xc3", b"\xed\xa0\x80", b"\xf4\x90\x80\x80",
    b'"', b'""', b'"\n', b',"', b'",', b"\r", b"\r\n", b"\n\n", b"\r\r", b",", b",,,,,,,,,,,,", b";", b"\t", b" ",
    b"\\", b"'", b"\x1b[2J", b"\x1b]0;x\x07", b"\xe2\x80\xae", b"\xe2\x80\xa8", b"\x85", b"\xc2\x85", b"\x0b",
    b"\x0c", b"\x1c", b"\x1a", b"=cmd|' /C calc'!A0", b"+", b"-", b"@", b"nan", b"-inf", b"1e400", b"1e-400", b"1_000",
    b"0x1p3", b"9" * 400, b"0000-00-00", b"0000-01-01", b"-0", b"NA", b"x" * 140_000, b'"' + b"x" * 140_000 + b'"',
    b"x," * 70_000, b"../../secret.csv", b"$1", b"?", b"{}", b"[", b"%s", b"'; DROP TABLE texts; --",
)  # fmt: skip
SENTINEL = "sentinel-7f3a"
_opened: list[str] = []
_watching = False


def _watch(event: str, arguments: tuple[object, ...]) -> None:
    if _watching and event == "open" and isinstance(arguments[0], str | bytes | Path):
        path = arguments[0].decode("utf-8", "replace") if isinstance(arguments[0], bytes) else str(arguments[0])
        _opened.append(path)


sys.addaudithook(_watch)


def _hung(*_: object) -> None:
    raise TimeoutError("the check hangs")


@contextmanager
def watched() -> Iterator[list[str]]:
    """The files opened meanwhile; TimeoutError where it takes too long."""
    global _watching
    _opened.clear()
    before = signal.signal(signal.SIGALRM, _hung)
    signal.alarm(PATIENCE)
    _watching = True
    try:
        yield _opened
    finally:
        _watching = False
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def mangled(text: bytes, dice: random.Random) -> bytes:
    """A text with one to five random changes."""
    for _ in range(dice.randint(1, 5)):
        at = dice.randrange(len(text) + 1)
        end = min(len(text), at + dice.choice([1, 1, 2, 10, 200]))
        text = dice.choice(
            [
                text[:at] + bytes([dice.randrange(256)]) + text[at + 1 :],
                text[:at] + dice.choice(NASTY) + text[at:],
                text[:at] + dice.choice(NASTY) + text[end:],
                text[:at] + text[end:],
                text[:at] + text[at:end] * dice.choice([2, 50]) + text[end:],
                text[:at],
                text[at:],
            ]
        )
    return text


def checked(broken: Broken) -> str:
    """Everything a check says, or the refusal; anything else is raised. No rule may break down."""
    try:
        layer = contribution_layer(broken.contribution) if broken.contribution.exists() else None
        done = check_layers(open_package(broken.root), layer, rules=RULES)
    except GapbookError as refusal:
        return str(refusal)
    assert done.report.broken == ()
    tables = str([data.to_pylist() for data in done.context.tables.values()])
    return json.dumps(done.report.to_json()) + tables


def outside(opened: list[str], folder: Path) -> list[str]:
    """Files opened that are neither in the folder nor part of the installation."""
    libraries = str(Path(pyarrow.__file__).parents[1])
    installed = (libraries, sys.prefix, sys.base_prefix, str(Path(__file__).resolve().parents[1]), "/usr/share/zoneinfo/")
    allowed = (str(folder), *installed, "/dev/", "/proc/", "/sys/")
    return [path for path in opened if path.startswith("/") and not path.startswith(allowed)]


@pytest.fixture
def broken(tmp_path) -> Broken:
    (tmp_path / "inside").mkdir()
    (tmp_path / "secret.csv").write_text(f"tester_id,style,own_frame\nsecret,flat,{SENTINEL}\n", encoding="utf-8")
    return Broken(tmp_path / "inside")


def judge(broken: Broken, tmp_path: Path) -> None:
    with watched() as opened:
        said = checked(broken)
    assert SENTINEL not in said
    assert outside(opened, tmp_path / "inside") == []
    assert str(tmp_path / "secret.csv") not in opened


@pytest.mark.slow_after(15)
@pytest.mark.parametrize("seed", SEEDS)
def test_bytes_of_tables(broken, tmp_path, seed):
    dice = random.Random(seed)
    for table in dice.sample(RAW_TABLES, 2):
        path = broken.tables / f"{table}.csv"
        path.write_bytes(mangled(path.read_bytes(), dice))
    judge(broken, tmp_path)


@pytest.mark.slow_after(8)
@pytest.mark.parametrize("seed", range(24))
def test_bytes_of_a_contribution(broken, tmp_path, seed):
    dice = random.Random(1000 + seed)
    for table in dice.sample(RAW_TABLES, 3):
        broken.contribute(**{table: mangled((broken.tables / f"{table}.csv").read_bytes(), dice)})
    judge(broken, tmp_path)


@pytest.mark.parametrize("seed", range(24))
def test_bytes_of_descriptor_and_schemas(broken, tmp_path, seed):
    dice = random.Random(2000 + seed)
    path = dice.choice([broken.root / "datapackage.json", *sorted((broken.root / "schema").glob("[cefiprst]*.json"))])
    path.write_bytes(mangled(path.read_bytes(), dice))
    judge(broken, tmp_path)


WRONG = (
    None,
    True,
    0,
    -1,
    1e999,
    "",
    "x",
    "(",
    "(?=a)",
    "^(a+)+$",
    "../secret.csv",
    "https://example.org/x.csv",
    [],
    {},
    [[]],
    ["x", "x"],
)
"""Values put in place of others; still JSON."""


def replaced(tree: object, dice: random.Random) -> object:
    """A JSON document with one value somewhere replaced, taken out, or put under another name."""
    while True:
        if not isinstance(tree, dict | list) or not tree:
            return dice.choice(WRONG)
        key = dice.choice(list(tree)) if isinstance(tree, dict) else dice.randrange(len(tree))
        child = tree[key]
        if isinstance(child, dict | list) and child and dice.random() < 0.8:
            tree[key] = replaced(child, dice)
        elif dice.random() < 0.3:
            del tree[key]
        else:
            tree[key] = dice.choice(WRONG)
        return tree


@pytest.mark.slow_after(15)
@pytest.mark.parametrize("seed", range(60))
def test_values_of_descriptor_and_schemas(broken, tmp_path, seed):
    dice = random.Random(3000 + seed)
    path = dice.choice([broken.root / "datapackage.json", *sorted((broken.root / "schema").glob("[cefiprst]*.json"))])
    path.write_text(json.dumps(replaced(json.loads(path.read_text(encoding="utf-8")), dice)), encoding="utf-8")
    judge(broken, tmp_path)


@pytest.mark.parametrize("table", ["testers", "spacings", "frames"])
def test_a_planted_link_is_not_followed(broken, tmp_path, table):
    path = broken.tables / f"{table}.csv"
    path.unlink()
    path.symlink_to(tmp_path / "secret.csv")
    judge(broken, tmp_path)
    broken.contribution.mkdir()
    (broken.contribution / "testers.csv").symlink_to(tmp_path / "secret.csv")
    judge(broken, tmp_path)


@pytest.mark.parametrize(
    "path", ["../secret.csv", "catalogue/../../secret.csv", "/etc/passwd", "https://example.org/x.csv", "~/x"]
)
def test_a_descriptor_that_points_elsewhere(broken, tmp_path, path):
    file = broken.root / "datapackage.json"
    content = json.loads(file.read_text(encoding="utf-8"))
    next(item for item in content["resources"] if item["name"] == "testers")["path"] = path
    file.write_text(json.dumps(content), encoding="utf-8")
    judge(broken, tmp_path)
    assert "path" in checked(broken)


def test_the_watch_sees_what_is_opened(tmp_path):
    (tmp_path / "x").write_text("", encoding="utf-8")
    with watched() as opened:
        (tmp_path / "x").read_text(encoding="utf-8")
    assert outside(opened, tmp_path / "inside") == [str(tmp_path / "x")]
