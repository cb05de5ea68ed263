"""What a data package says of where its data come from."""

from __future__ import annotations

from gapbook.tables.package import Package

INVENTED = "Invented data: no frame in this package is real"


def caution(package: Package) -> str | None:
    """INVENTED where a source of the package says that its data are invented, else None."""
    sources = package.descriptor.get("sources")
    stated = sources if isinstance(sources, list) else []
    titles = [str(item.get("title", "")) for item in stated if isinstance(item, dict)]
    return INVENTED if any("invented" in title.lower() for title in titles) else None
