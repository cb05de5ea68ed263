"""Make what stands in derive/docs but is not written by hand: `python derive/document.py [pictures] [validation]`."""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "derive" / "docs"


def make_pictures() -> None:
    """Draw all pictures anew; that of the page needs Chromium and Playwright."""
    from playwright.sync_api import sync_playwright

    from documenting import pictures

    folder = DOCS / "pictures"
    folder.mkdir(exist_ok=True)
    for name in pictures.DRAWN:
        print(pictures.draw(name, ROOT, folder))
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=_browser(), args=["--no-sandbox", "--disable-dev-shm-usage"])
        print(pictures.photograph(browser, ROOT, folder))
        browser.close()


def _browser() -> str | None:
    import shutil

    return shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


def make_validation() -> None:
    """Compute the page of outside checks anew; it needs what the tests need."""
    sys.path.insert(0, str(ROOT / "tests"))
    import outside

    outside.write()
    print(outside.PAGE)


def main(what: list[str]) -> int:
    """Make what is named, or all of it."""
    makers = {"pictures": make_pictures, "validation": make_validation}
    if unknown := [one for one in what if one not in makers]:
        print(f"{unknown[0]} is not made here; expected one of {', '.join(makers)}", file=sys.stderr)
        return 2
    for one in what or makers:
        makers[one]()
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
