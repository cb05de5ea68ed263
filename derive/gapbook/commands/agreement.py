"""`gapbook agreement`."""

from __future__ import annotations

from gapbook.commands.shared import JsonOption, PackageOption, package_document, print_json
from gapbook.screens import page
from gapbook.tables.opening import open_package

HELP = """Show how well readings repeat and people agree, and how each person's readings lie beside the others'.

Gauge studies by analysis of variance (AIAG), one for each quantity and kind of instrument, from whatever was read more
than once. JSON: {"confidence", "studies", "repeatability", "people", "placement", "biases", "against", "faults", "package"}.
A study has "quantity" (gap, pitch, or one of the readings'), "unit", "instrument_kind", "readings", "parts", "shared_parts",
"people", "repeatability", "repeatability_freedom", "reproducibility", "reproducibility_freedom", "interaction", "grr",
"part_variation", "total_variation", "grr_percent", "distinct_categories"; repeatability, of each person, "contributor_id",
"quantity", "unit", "instrument_kind", "repeatability", "freedom", "readings", "others" (that of all other people); a bias
"contributor_id", "quantity", "unit", "bias", "low", "high", "freedom", "shared_parts", "against"; people, as the ± of beds
takes them, "instrument_kind", "seen", "freedom", "used" [mm]; "against" has photographs beside a calliper where beds were
read with both, "instrument_kind", "against", "quantity", "unit", "difference", "low", "high", "scatter", "shared_parts";
placement is how far strings are taken to be out of place [mm]. null: too few readings to say. "faults" counts faults that
keep rows out; `gapbook check` names them."""


def agreement(package: PackageOption = None, as_json: JsonOption = False) -> None:
    """Open, study, print."""
    from gapbook.intake.agreement import agreement_of  # late: see shared
    from gapbook.screens.agreement import screen

    opened = open_package(package)
    studied = agreement_of(opened)
    if as_json:
        print_json(studied.to_json() | {"package": package_document(opened)})
    else:
        page.show(*screen(studied))
