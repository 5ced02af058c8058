"""Every picture in every language: its words fit, it is mirrored where it has to be, and no key stands for a text."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page

from pages.heats import Scene
from pages.pairs import all_cases
from pages.test_pictures import PICTURES, Looker
from tallywire.wire.catalogue import LANGUAGES, catalogue

pytestmark = pytest.mark.slow
OTHERS = LANGUAGES[1:]
SCENES = (Scene(lanes=10, names="forty"), Scene(lanes=20, divisions=2, names="forty", name="capped", mode="rehearsal"))
_KEY = re.compile(r"\b(?:air|board|call|commentary|facts|gaps|plain|shared)\.[a-z_]+\b|\{\w*\}|undefined")


def look_through(page: Page, address: str, name: str, language: str, scenes: tuple[Scene, ...]) -> list[str]:
    """Show scene after scene in a language, and give what is wrong."""
    folder, _, query = name.partition("?")
    asked = f"{folder}?{query}&lang={language}" if query else f"{folder}?lang={language}"
    looker, (_, sizes, _) = Looker(page, address, asked, like=name), PICTURES[name]
    found = list[str]()
    for scene in scenes:
        found += [f"{scene}: {fault}" for fault in looker.show(scene, sizes[1])]
        found += [f"{scene}: {key}" for key in _KEY.findall(page.inner_text("body"))]
    root = page.evaluate("() => [document.documentElement.lang, document.documentElement.dir]")
    return found + ([] if root == [language, catalogue(language).direction] else [f"the page says {root}"])


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("name", ["air", "board", "gaps", "call"])
def test_a_picture_keeps_its_shape_in_every_language(page: Page, address: str, name: str, language: str) -> None:
    """With long names, and with two divisions in a rehearsal: no text spills, overlaps, or leaves the frame."""
    assert look_through(page, address, name, language, SCENES) == []


@pytest.mark.long
@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("name", PICTURES)
def test_every_picture_keeps_its_shape_in_every_language(page: Page, address: str, name: str, language: str) -> None:
    """Many heats of many sizes, as in English."""
    cases = all_cases({"lanes": (1, 2, 10, 20), "names": ("forty", "rtl"), "name": ("waiting", "capped", "tie")})
    assert look_through(page, address, name, language, tuple(Scene(**case) for case in cases)) == []
