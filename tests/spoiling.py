"""Packages, contributions, arguments and terminals spoilt at random, from a number alone: what a hostile run begins with."""

from __future__ import annotations

import csv
import io
import json
import os
import random
import shutil
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

from opens import commands
from test_fuzz import mangled, replaced

PICTURES = ("draw", "drill", "sheet", "chart", "merge")
CHECKING = ("derive", "atlas", "release", "forget", "withdraw", "rename", "correct", "admit", "retension", "compare", "export")
"""Commands that take longer than others; they are tried less often."""
OFTEN = {**dict.fromkeys(PICTURES, 1), **dict.fromkeys(CHECKING, 5)}
OTHERS_OFTEN = 16
"""How often a command is tried, against the others."""
ESCAPES = (
    "\x1b[2J", "\x1b]0;x\x07", "\x9b2J", "\u202e", "\u2066", "\u2028", "\x85", "\u200b", "\u00ad", "\u2060", "\U000e0041",
    "\x07", "\r", "\x00", "\ufeff", "\ufffe", "\x0b",
)  # fmt: skip
"""What a terminal would obey, or nobody sees."""
TEXTS = (
    *ESCAPES, "", " ", "one", "two", "one-a", "x" * 300, "x" * 5000, "ünï", "🎾", "中文", "=1+1", "@x", "[red]x[/red]", "$x$",
    "%s", "{0}", "</script>", "<b>", "&", "]]>", "`x`", "|", "'", '"', "../x", "/etc/passwd", "-", "--help", "*", "a\nb",
    "a\tb", "\\", "NA", "null",
)  # fmt: skip
NUMBERS = (
    "0", "-1", "1e308", "-1e308", "1e-308", "1e400", "nan", "inf", "9" * 400, "9" * 5000, "1_000", "0x1p3", "²", "१", "-0",
    "0.0", "1e-9", "99999", "2147483648", "9223372036854775808",
)  # fmt: skip
CELLS = (
    *TEXTS, *NUMBERS, "0001-01-01", "9999-12-31", "2026-02-30", "true", "TRUE", "1", "12.5", "mm", "[in_i]", "photo",
    "measured", "counted",
)  # fmt: skip
VALUES = (None, True, 0, -1, 1e308, 2**63, 10**30, [], {}, [[]], [None], {"x": 1}, *TEXTS)
"""What stands in place of a value of a JSON document."""
NAMES = (
    "plain", "basis=counted", "st*r", "[ab]", "{one,two}", "with blanks", "it's", 'say "so"', "100%", "a;b", "$HOME", "-x",
    "ünï", "e\x1b[2J", "b\u202ed", "n\nl", "x" * 200,
)  # fmt: skip
"""Of the package's folder."""
ARGUMENTS = (
    *TEXTS, *NUMBERS, "\udcff", "x" * 256, "16x19", "0x0", "16x19 0 sq in", "16x19 98 sq in", "1..", "..", "5..1", "--json",
    "--package", "--units", "24kg", "1e999kg", "98 sq in",
)  # fmt: skip


# What is spoilt


def rows_of(path: Path) -> list[list[str]]:
    return list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))


def put(path: Path, rows: list[list[str]]) -> None:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    path.write_bytes(out.getvalue().encode("utf-8", "surrogatepass"))


def cell(path: Path, dice: random.Random) -> str:
    """One cell, or a whole column."""
    rows = rows_of(path)
    if len(rows) < 2:
        return "nothing"
    column, text = dice.randrange(len(rows[0])), dice.choice(CELLS)
    for row in rows[1:] if dice.random() < 0.2 else [dice.choice(rows[1:])]:
        row[column] = text
    put(path, rows)
    return f"{rows[0][column]} = {text[:40]!r}"


def rows(path: Path, dice: random.Random) -> str:
    """Rows left out, repeated, moved; a column left out, doubled or renamed."""
    table = rows_of(path)
    kind = dice.choice(["none", "fewer", "twice", "shuffled", "column out", "column twice", "column renamed", "more"])
    body = table[1:]
    if kind == "none":
        table = table[:1]
    elif kind == "fewer":
        table = [table[0], *(row for row in body if dice.random() < 0.7)]
    elif kind == "twice":
        table += body
    elif kind == "shuffled":
        table = [table[0], *dice.sample(body, len(body))]
    else:
        column = dice.randrange(len(table[0]))
        for number, row in enumerate(table):
            if kind == "column out":
                del row[column]
            elif kind == "column twice":
                row.insert(column, row[column])
            elif kind == "more":
                row.append("more" if number == 0 else dice.choice(CELLS))
            elif number == 0:
                row[column] = dice.choice(TEXTS)
    put(path, table)
    return kind


def mangle(path: Path, dice: random.Random) -> str:
    path.write_bytes(mangled(path.read_bytes(), dice))
    return "bytes"


def ends(path: Path, dice: random.Random) -> str:
    text = path.read_bytes()
    path.write_bytes(
        dice.choice(
            [
                b"\xef\xbb\xbf" + text,
                text.replace(b"\n", b"\r\n"),
                text.replace(b"\n", b"\r"),
                text.rstrip(b"\n"),
                b"\n\n" + text,
                text.decode().encode("utf-16"),
                text.replace(b",", b";"),
                b"",
            ]
        )
    )
    return "ends"


def kind(path: Path, dice: random.Random) -> str:
    """Something else in the place of a file."""
    made = dice.choice(["missing", "pipe", "folder", "link", "loop", "zero", "sparse"])
    path.unlink()
    if made == "pipe":
        os.mkfifo(path)
    elif made == "folder":
        path.mkdir()
    elif made == "link":
        path.symlink_to(path.parents[2] / "secret" if len(path.parents) > 2 else "/etc/passwd")
    elif made == "loop":
        path.symlink_to(path.name)
    elif made == "zero":
        path.symlink_to("/dev/zero")
    elif made == "sparse":
        with path.open("wb") as stream:
            stream.truncate(5 << 30)
    return made


def tree(path: Path, dice: random.Random) -> str:
    path.write_text(json.dumps(replaced(json.loads(path.read_text(encoding="utf-8")), dice)), encoding="utf-8")
    return "a value"


def leaves(path: Path, dice: random.Random) -> str:
    """Some values of a JSON document, deep inside."""
    document = json.loads(path.read_text(encoding="utf-8"))
    spots: list[tuple[object, object]] = []

    def walk(at: object) -> None:
        pairs = at.items() if isinstance(at, dict) else enumerate(at) if isinstance(at, list) else ()
        for key, child in pairs:
            spots.append((at, key))
            walk(child)

    walk(document)
    told = []
    for _ in range(dice.choice([1, 1, 2, 5])):
        at, key = dice.choice(spots)
        value = dice.choice(VALUES)
        if isinstance(at[key], str) and dice.random() < 0.5:
            value = at[key] + dice.choice(TEXTS)
        at[key] = value
        told.append(f"{key} = {str(value)[:40]!r}")
    text = json.dumps(document, ensure_ascii=dice.random() < 0.5)
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    return ", ".join(told)


ON_TABLES: list[Callable[[Path, random.Random], str]] = [cell, cell, cell, cell, rows, rows, mangle, ends, kind]
ON_JSON: list[Callable[[Path, random.Random], str]] = [tree, leaves, leaves, leaves, mangle, kind]


def spoil(folder: Path, dice: random.Random) -> str:
    """Spoil one file below a folder; says which and how."""
    files = sorted(
        path for path in folder.rglob("*") if path.is_file() and not path.is_symlink() and path.stat().st_size < 1 << 20
    )
    path = dice.choice(files)
    if dice.random() < 0.3 and folder.name == "package":  # the descriptor is one of many
        path = folder / "datapackage.json"
    if path.is_symlink() or not path.is_file() or path.stat().st_size > 1 << 20:
        return "nothing"
    with suppress(OSError, ValueError, csv.Error, IndexError):
        act = dice.choice(ON_JSON if path.suffix == ".json" else ON_TABLES)
        return f"{path.relative_to(folder.parent)} ({act.__name__}): {act(path, dice)}"
    return "nothing"


def litter(package: Path, dice: random.Random) -> str:
    """Something planted beside the package's own files."""
    name = dice.choice(
        [
            ".gapbook",
            ".gapbook/journal.json",
            ".gapbook/lock",
            ".gapbook/holder.json",
            "catalogue/frames.csv.new",
            "catalogue/derived/scores.csv.new",
            "matplotlibrc",
        ]
    )
    path = package / name
    path.parent.mkdir(exist_ok=True)
    made = dice.choice(["file", "pipe", "folder", "link"])
    if made == "file":
        path.write_text(
            dice.choice(
                [
                    '{"format":1,"tables":[]}',
                    "",
                    "{",
                    "backend: x",
                    '{"format":1,"tables":[{"path":"../secret","size":1,"sha256":"x"}]}',
                    "[]",
                    "\ud7ff",
                ]
            ),
            encoding="utf-8",
        )
    elif made == "pipe":
        os.mkfifo(path)
    elif made == "folder":
        path.mkdir()
    else:
        path.symlink_to(package.parent / "secret")
    return f"{name} ({made})"


class Case(NamedTuple):
    """A run.

    arguments: of gapbook
    told: what was spoilt
    package: the folder of the package
    littered: whether something was planted beside the package's own files
    encoding: of stdout and stderr
    terminal: whether they are a terminal
    full: whether stdout takes nothing
    columns: COLUMNS; None if it is not set
    """

    arguments: list[str]
    told: list[str]
    package: Path
    littered: bool
    encoding: str
    terminal: bool
    full: bool
    columns: str | None


def case(number: int, scratch: Path, whole: Path) -> Case:
    """A run by its number, its files made in `scratch`."""
    dice = random.Random(number)
    told: list[str] = []
    name = "package" if dice.random() < 0.8 else dice.choice(NAMES)
    package = scratch / name
    shutil.copytree(whole / "package", package)
    mine = scratch / "mine"
    shutil.copytree(whole / "mine", mine)
    (scratch / "out").mkdir()
    if name != "package":
        told.append(f"folder {name!r}")
    every = commands(str(package), str(mine), scratch / "out")
    command = dice.choices(list(every), [OFTEN.get(one, OTHERS_OFTEN) for one in every])[0]
    arguments = list(every[command])
    what, littered = dice.random(), False
    if what < 0.6:
        told += [spoil(package, dice) for _ in range(dice.choice([1, 1, 1, 2, 3]))]
    elif what < 0.75:
        told += [spoil(mine, dice) for _ in range(dice.choice([1, 1, 2]))]
    elif littered := what < 0.8:
        told.append(litter(package, dice))
    if what >= 0.8 or dice.random() < 0.1:
        for _ in range(dice.choice([1, 1, 2])):
            place = dice.randrange(len(arguments) + 1)
            way = dice.random()
            if way < 0.6 and place < len(arguments) and arguments[place] not in (str(package), "--package"):
                arguments[place] = dice.choice(ARGUMENTS)
            elif way < 0.8:
                arguments.insert(place, dice.choice(ARGUMENTS))
            elif arguments and place < len(arguments) and arguments[place] not in (str(package), "--package"):
                del arguments[place]
    if dice.random() < 0.25 and "--json" not in arguments and command != "forget":
        arguments.append("--json")
    out = dice.random()
    if out < 0.05:
        shutil.rmtree(scratch / "out")
        (scratch / "out").write_text("a file", encoding="utf-8")
        told.append("out is a file")
    encoding = dice.choice(["utf-8", "utf-8", "utf-8", "ascii", "cp1252"])
    columns = dice.choice([None, None, "40", "1", "200", "²", "-5", "9" * 20])
    return Case(
        arguments=[command, *arguments],
        told=told,
        package=package,
        littered=littered,
        encoding=encoding,
        terminal=dice.random() < 0.5,
        full=dice.random() < 0.03,
        columns=columns,
    )
