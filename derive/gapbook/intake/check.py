"""A check from end to end: read the layers, let every rule look, put consequences under causes, apply exceptions."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from gapbook.intake.context import CheckContext
from gapbook.intake.exceptions import with_exceptions
from gapbook.intake.findings import ORDER, Finding
from gapbook.intake.folding import folded
from gapbook.intake.layers import CATALOGUE, CONTRIBUTION, Layer, catalogue_layer, contribution_layer, is_package
from gapbook.intake.placing import placed
from gapbook.intake.reading import read_layers
from gapbook.intake.rule import Report, Rule
from gapbook.intake.rules import RULES
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package
from gapbook.tables.transactions import consistent

Say = Callable[[str], None]


@dataclass(frozen=True)
class Checked:
    """A report and the material it rests on."""

    report: Report
    context: CheckContext


def check(
    path: Path | None = None, package: Package | None = None, *, today: datetime.date | None = None, say: Say | None = None
) -> Checked:
    """Check the contribution folder at `path` together with `package`; or the data package at `path` (else `package`, else
    the one at hand). `say` is told what is being done.

    GapbookError where there is no such folder, or the package's descriptor or schemas cannot be used.
    """
    if path is not None and not is_package(path):
        return check_layers(package or open_package(), contribution_layer(path), today=today, say=say)
    meant = open_package(path) if path is not None or package is None else package
    return check_layers(meant, None, today=today, say=say)


def check_layers(
    package: Package,
    contribution: Layer | None,
    *,
    today: datetime.date | None = None,
    say: Say | None = None,
    rules: Sequence[Rule] = RULES,
) -> Checked:
    """The same for a contribution already found (None: the catalogue itself is checked), and for a choice of rules."""
    tell = say or (lambda text: None)
    tell("reading")
    layers = [catalogue_layer(package), *([] if contribution is None else [contribution])]
    own = CATALOGUE if contribution is None else CONTRIBUTION
    with consistent(package, *layers[0].files):
        read = read_layers(package, layers)
    context = CheckContext(package, read, own, today or datetime.date.today())
    findings: list[Finding] = []
    broken: list[str] = []
    for rule in rules:
        tell(rule.code)
        try:
            findings += rule.findings(context)
        except Exception as error:  # a rule that fails is gapbook's fault, and must not hide what the others find
            broken.append(f"{rule.code}: {type(error).__name__}: {error}")
    follows = {rule.code: rule.follows for rule in rules}
    findings = with_exceptions(context, folded(placed(context, findings), follows), rules)
    ordered = sorted(
        findings, key=lambda item: (ORDER[item.severity], item.code, item.file, item.line or 0, item.column or "", item.found)
    )
    return Checked(Report(tuple(ordered), context.read.rows[own], tuple(rules), tuple(broken)), context)
