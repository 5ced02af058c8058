"""Every picture with every kind of heat: nothing overflows, nothing overlaps, nothing leaves the frame."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from itertools import count, product
from typing import Any

import pytest
from playwright.sync_api import Page

from pages.heats import NAMES, SCENES, Frame, Scene, frame
from pages.measure import faults, settle
from pages.pairs import all_cases, pairwise
from pages.stub import Wire

pytestmark = pytest.mark.slow

RASTERS = ((1280, 720), (1920, 1080))
LARGE = (3840, 2160)
"""Twice the last raster, dot by dot, and four times its work for a processor that draws: only in the long run."""
DESKS = ((1366, 768), (1024, 768), (820, 1180))
HEATS: dict[str, Any] = {"lanes": (1, 2, 10, 20), "names": tuple(NAMES), "scene": (*SCENES, "official")}
PICTURES: dict[str, tuple[str, tuple[tuple[int, int], ...], float]] = {
    "air": ("heat", RASTERS, 0.05),
    "board": ("heat", RASTERS, 0.0),
    "board?show=ranking": ("heat", RASTERS, 0.0),
    "board?show=result": ("result", RASTERS, 0.0),
    "board?show=countdown": ("heat", RASTERS, 0.0),
    "gaps": ("gaps", RASTERS + DESKS, 0.0),
    "call": ("call", (*RASTERS, (1366, 768), (1180, 820), (820, 1180)), 0.0),
}
"""The view that feeds a page (with what is asked of it), the sizes it is seen at, and how far from the edge it keeps
(EBU R 95: 5 %)."""


def heats(name: str, *, every: bool) -> list[dict[str, Any]]:
    """Give the cases of a page: all of them, the large raster too, or as many as hold every pair; size by size."""
    sizes = PICTURES[name][1]
    factors = HEATS | {"size": (*sizes, LARGE) if every else sizes}
    return sorted(all_cases(factors) if every else pairwise(factors), key=lambda case: str(case["size"]))


_DRAWN = "lanes => document.querySelectorAll('[data-part=row]').length === lanes && document.fonts.status === 'loaded'"


def open_picture(page: Page, address: str, name: str, shown: Frame, size: tuple[int, int]) -> Wire:
    """Open a page of a size on a frame."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    wire = Wire(page, shown)
    folder, _, query = name.partition("?")
    page.goto(f"{address}/{folder}/index.html?{query}")
    return wire


def drawn(page: Page, lanes: int) -> None:
    """Wait until so many lanes are drawn, in their own face."""
    page.wait_for_function(_DRAWN, arg=lanes)
    settle(page)


def look_at(page: Page, address: str, name: str, scene: Scene, size: tuple[int, int]) -> Wire:
    """Open a page of a size on a scene and wait until it is drawn."""
    wire = open_picture(page, address, name, frame(scene, PICTURES[name][0]), size)
    drawn(page, scene.lanes)
    return wire


@dataclass(slots=True)
class Looker:
    """One page on which scene after scene is shown; it is opened anew only for another size.

    `like` names the picture whose view and edge it has, where `name` asks for more than that.
    """

    page: Page
    address: str
    name: str
    like: str = ""
    _wire: Wire | None = None
    _size: tuple[int, int] = (0, 0)
    _numbers: Iterator[int] = field(default_factory=lambda: count(1))

    def show(self, scene: Scene, size: tuple[int, int], change: Callable[[Frame], None] = lambda _: None) -> list[str]:
        """Show a scene, its frame changed if asked, and give what is wrong with the picture."""
        view, _, inset = PICTURES[self.like or self.name]
        shown = frame(scene, view)
        shown["heat"]["id"] = f"h{next(self._numbers)}"  # a heat of its own: nothing of the last one is held back
        change(shown)
        if self._wire is None or size != self._size:
            self.page.unroute_all()
            self._size, self._wire = size, open_picture(self.page, self.address, self.name, shown, size)
        else:
            self._wire.show(shown)
        drawn(self.page, scene.lanes)
        return faults(self.page, inset=inset)


def look_through(page: Page, address: str, name: str, cases: list[dict[str, Any]]) -> list[str]:
    """Show case after case and give what is wrong."""
    looker = Looker(page, address, name)
    return [
        f"{case}: {fault}"
        for case in cases
        for fault in looker.show(Scene(name=case["scene"], lanes=case["lanes"], names=case["names"]), case["size"])
    ]


@pytest.mark.parametrize(
    ("harm", "found"),
    [
        ("row.querySelector('[data-part=name]').style.overflowX = 'visible'", "spills: name"),
        ("row.querySelector('[data-part=gap]').style.transform = 'translateX(6%) scaleX(3)'", "text overlaps"),
        ("row.style.marginTop = '30px'", "rows overlap"),
        ("row.style.transform = 'translateX(-40px)'", "leaves the frame: place"),
    ],
)
def test_a_fault_is_seen(page: Page, address: str, harm: str, found: str) -> None:
    """The measure itself: a picture harmed in one way is told to be."""
    assert Looker(page, address, "air").show(Scene(lanes=20, names="forty"), (1920, 1080)) == []
    page.evaluate(f"() => {{ const row = document.querySelectorAll('[data-part=row]')[1]; {harm}; }}")
    assert any(fault.startswith(found) for fault in faults(page, inset=0.05))


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_keeps_its_shape(page: Page, address: str, name: str) -> None:
    """Every pair of lanes, names, scene and size: no text spills, overlaps, or leaves the frame (± 1 pixel)."""
    assert look_through(page, address, name, heats(name, every=False)) == []


@pytest.mark.long
@pytest.mark.parametrize("name", PICTURES)
def test_every_picture_keeps_its_shape(page: Page, address: str, name: str) -> None:
    """All combinations."""
    assert look_through(page, address, name, heats(name, every=True)) == []


RARER = (
    Scene(lanes=12, divisions=2, mode="rehearsal"),
    Scene(lanes=20, divisions=2, names="forty", name="capped"),
    Scene(lanes=20, divisions=3, names="rtl"),
    Scene(lanes=10, format="amrap", names="forty", clock_ms=800_000),
    Scene(lanes=20, name="finishing", names="forty", mode="rehearsal", clock_ms=800_000),
)


@pytest.mark.parametrize("name", PICTURES)
def test_rarer_heats_keep_their_shape_too(page: Page, address: str, name: str) -> None:
    """Several divisions, repeating rounds, finishers among the working, and the rehearsal mark on top."""
    looker = Looker(page, address, name)
    sizes = [size for size in ((1920, 1080), (820, 1180)) if size in PICTURES[name][1]]
    assert [f"{scene}: {fault}" for size in sizes for scene in RARER for fault in looker.show(scene, size)] == []


RESULTS = ("1:12:54.900", "102.5 kg", "10 bars + 10", "CAP+1110")


def announced(shown: Frame, result: str) -> None:
    """Give every lane a result."""
    for lane in shown["lanes"].values():
        lane["result"] = result


@pytest.mark.parametrize("name", PICTURES)
def test_long_results_keep_their_place(page: Page, address: str, name: str) -> None:
    """Whatever a format announces stays in its column."""
    looker = Looker(page, address, name)
    for result, lanes in product(RESULTS, (4, 10, 20)):
        scene, announce = Scene(lanes=lanes, names="forty", name="capped"), partial(announced, result=result)
        assert looker.show(scene, (1920, 1080), announce) == [], (result, lanes)
        figures = page.locator("[data-part=figure]").all_text_contents()
        assert set(figures) == {result}


@pytest.mark.parametrize("name", PICTURES)
def test_an_empty_heat_is_a_calm_picture(page: Page, address: str, name: str) -> None:
    """No lanes: the head alone, and nothing out of shape."""
    assert Looker(page, address, name).show(Scene(lanes=0, name="waiting"), (1920, 1080)) == []
    page.get_by_text("Event 4").wait_for()
