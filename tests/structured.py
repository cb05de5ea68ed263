"""The good small package with one thing broken by its bytes, and what the structure rules say of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from damaged import good
from gapbook.intake.check import Checked, check_layers
from gapbook.intake.findings import Finding
from gapbook.intake.layers import contribution_layer
from gapbook.intake.rule import Rule
from gapbook.intake.rules.structure import RULES as STRUCTURE
from gapbook.tables.opening import open_package

Change = Callable[[bytes], bytes]


class Broken:
    """A good package in a folder, and a contribution folder beside it, to be broken."""

    def __init__(self, folder: Path) -> None:
        self.root = good().write(folder / "package")
        self.tables = self.root / "catalogue"
        self.contribution = folder / "contribution"

    def change(self, table: str, change: Change) -> None:
        """Change the bytes of a table; they must change."""
        path = self.tables / f"{table}.csv"
        before = path.read_bytes()
        after = change(before)
        assert after != before, "nothing was broken"
        path.write_bytes(after)

    def contribute(self, **files: bytes) -> None:
        """Write tables of a contribution."""
        self.contribution.mkdir(exist_ok=True)
        for table, content in files.items():
            (self.contribution / f"{table}.csv").write_bytes(content)

    def checked(self, rules: Sequence[Rule] = STRUCTURE) -> Checked:
        """The check of the contribution if there is one, else of the package. No rule may break."""
        layer = contribution_layer(self.contribution) if self.contribution.exists() else None
        checked = check_layers(open_package(self.root), layer, rules=rules)
        assert checked.report.broken == ()
        return checked

    def findings(self) -> tuple[Finding, ...]:
        """What the structure rules find."""
        return self.checked().report.findings


def swap(old: bytes, new: bytes) -> Change:
    """The first `old` replaced."""
    return lambda text: text.replace(old, new, 1)


def at_line(number: int, change: Change) -> Change:
    """One physical line changed; the header is line 1."""

    def whole(text: bytes) -> bytes:
        lines = text.split(b"\n")
        lines[number - 1] = change(lines[number - 1])
        return b"\n".join(lines)

    return whole


def places(findings: Sequence[Finding]) -> list[tuple[str, str, int | None, str | None]]:
    """Code, table, line and column of each finding."""
    return [(finding.code, finding.table, finding.line, finding.column) for finding in findings]
