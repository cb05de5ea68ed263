"""A real browser for tests of pages: Chromium as the system has it, without a window."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome")


def program() -> str | None:
    """Where the browser is: named by GAPBOOK_BROWSER, or found among the programs."""
    named = os.environ.get("GAPBOOK_BROWSER")
    return named or next((found for name in NAMES if (found := shutil.which(name))), None)


@contextmanager
def browser() -> Iterator:
    """A browser, closed at the end; the test is skipped where there is none."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed (pip install '.[browser]')")
    executable = program()
    if executable is None:
        pytest.skip("no Chromium on this machine (apt-get install chromium, or name one in GAPBOOK_BROWSER)")
    with playwright.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=executable, args=["--no-sandbox", "--disable-dev-shm-usage"])
        yield opened
        opened.close()


@contextmanager
def opened(browser, file: Path, asked: str = "", **context) -> Iterator:
    """A page opened from disk with `asked` in its address; afterwards nothing was fetched and nothing went wrong."""
    within = browser.new_context(**{"viewport": {"width": 1320, "height": 900}, **context})
    page = within.new_page()
    fetched, wrong = [], []
    page.on("request", lambda request: fetched.append(request.url))
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda message: wrong.append(message.text) if message.type in ("error", "warning") else None)
    page.goto(f"{file.as_uri()}#{asked}")
    try:
        yield page
        assert wrong == []
        assert {url.split("#")[0] for url in fetched} == {file.as_uri()}
    finally:
        within.close()


def change(page, **fields: str) -> None:
    """Put values into fields of the question, as a person would, and let the page answer."""
    page.evaluate(
        """(fields) => {
            const form = document.getElementById("question");
            for (const [name, value] of Object.entries(fields)) {
                form.elements[name].value = value;
                form.elements[name].dispatchEvent(new Event("input", { bubbles: true }));
            }
        }""",
        fields,
    )
