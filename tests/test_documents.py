"""README is short and true, links lead somewhere, and the examples in the documents do what the pages say."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from documenting import pictures
from documents import DOCS, MADE, examples, links, name_of, pages, parts, run
from small import ROOT

PAGES = {name_of(page): page for page in pages()}
RUNNABLE = {name: examples(page) for name, page in PAGES.items() if examples(page)}
MOST_WORDS = 1000


def test_readme_can_be_read_in_three_minutes():
    assert len((ROOT / "README.md").read_text(encoding="utf-8").split()) < MOST_WORDS


@pytest.mark.parametrize("page", PAGES)
def test_links_lead_somewhere(page):
    folder = PAGES[page].parent
    missing = [one for one in links(PAGES[page]) if not (folder / one).exists() and f"/{MADE}/" not in f"/{one}"]
    assert not missing


def test_pictures_are_small_and_shown():
    shown = {(page.parent / one).resolve() for page in PAGES.values() for one in links(page)}
    drawn = sorted((DOCS / "pictures").iterdir())
    assert [one.name for one in drawn if one.stat().st_size >= pictures.MOST_BYTES] == []
    assert [one.name for one in drawn if one.resolve() not in shown] == []


def test_tutorials_are_run():
    assert {"tutorials/shopper.md", "tutorials/contributor.md", "tutorials/maintainer.md"} < set(RUNNABLE)
    assert sum(len(found) for found in RUNNABLE.values()) >= 25


@pytest.mark.slow
@pytest.mark.parametrize("page", RUNNABLE)
def test_examples_do_what_the_page_says(page, tmp_path):
    for example in RUNNABLE[page]:
        done = run(example, tmp_path)
        assert (done.returncode != 0) == example.fails, f"{example.text}\n{done.stdout}\n{done.stderr}"
        place = 0
        for part in parts(example.printed):
            assert part in done.stdout[place:], f"{part}\n--- is not printed by\n{example.text}--- which prints\n{done.stdout}"
            place = done.stdout.index(part, place) + len(part)


def share_that_differs(one, other) -> float:
    """The share of pixels of which a colour differs by more than a quarter of its range; 1 if the sizes differ."""
    with Image.open(one) as first, Image.open(other) as second:
        if first.size != second.size:
            return 1.0
        pixels = [np.asarray(image.convert("RGB"), dtype=int) for image in (first, second)]
    return float((np.abs(pixels[0] - pixels[1]).max(axis=2) > 64).mean())


@pytest.mark.slow
@pytest.mark.parametrize("name", pictures.DRAWN)
def test_a_picture_is_what_the_command_draws(name, tmp_path):
    """0.1 % of the pixels may differ, because other versions of matplotlib set letters a little differently."""
    drawn = pictures.draw(name, ROOT, tmp_path)
    assert share_that_differs(drawn, DOCS / "pictures" / drawn.name) < 0.001, "python derive/document.py pictures"


@pytest.mark.slow
def test_the_picture_of_the_page_is_what_a_browser_shows(chromium, tmp_path):
    """3 % of the pixels may differ, because the fonts of systems do."""
    taken = pictures.photograph(chromium, ROOT, tmp_path)
    assert share_that_differs(taken, DOCS / "pictures" / taken.name) < 0.03, "python derive/document.py pictures"


def test_a_changed_picture_is_seen(tmp_path):
    with Image.open(DOCS / "pictures" / "bed.png") as image:
        changed = image.convert("RGB")
    changed.paste((255, 0, 0), (400, 20, 480, 50))  # a word of the title painted over
    changed.save(tmp_path / "bed.png")
    assert share_that_differs(tmp_path / "bed.png", DOCS / "pictures" / "bed.png") > 0.001
