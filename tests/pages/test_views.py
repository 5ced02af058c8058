"""Every on-air view with every kind of heat: nothing overflows, overlaps, leaves the safe area or is too pale to read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from pages.contrast import pale
from pages.heats import NAMES, SCENES, Frame, Scene, frame
from pages.measure import faults
from pages.pairs import all_cases, pairwise
from pages.stub import OVERLAY, Wire

pytestmark = pytest.mark.slow

SAFE = 0.05
"""EBU R 95: graphics keep 5 % from each edge."""
SIZES = ((1920, 1080), (1280, 720), (3840, 2160), (1080, 1920))
FACTORS: dict[str, Any] = {
    "size": SIZES,
    "lanes": (1, 2, 10, 20),
    "names": tuple(NAMES),
    "scene": (*SCENES, "finishing"),
    "mode": ("live", "rehearsal"),
}


@dataclass(frozen=True, slots=True)
class Shown:
    """How a view is asked for, and how many names are on it with so many lanes; None: as many as there are lanes."""

    who: str = ""
    names: int | None = None
    within: str = "view"
    needs: int = 1
    finished: bool = False
    ids: Iterator[int] = field(default_factory=count)


VIEWS = {
    "heat": Shown(within="row"),
    "track": Shown(within="row"),
    "runin": Shown(within="row"),
    "clock": Shown(names=0),
    "workout": Shown(names=0),
    "athlete": Shown(who="lane:1", names=1),
    "duel": Shown(who="lane:1,lane:2", names=2, needs=2),
    "pace": Shown(who="lane:1,lane:2,lane:9,lane:4", names=None),
    "finish": Shown(who="lane:1", names=1, finished=True),
}


def scene_of(case: dict[str, Any]) -> Scene:
    """Give the scene of a case; among the finishing some are home."""
    clock_ms = 840_000 if case["scene"] == "finishing" else 402_000
    return Scene(name=case["scene"], lanes=case["lanes"], names=case["names"], mode=case["mode"], clock_ms=clock_ms)


def frame_of(scene: Scene) -> Frame:
    """Give a frame of its own heat, so that nothing of the last one is held back, with places in the event."""
    shown = frame(scene)
    for lane in shown["lanes"].values():
        lane["in_event"] = {"place": lane["place"] + 12, "shared": lane["shared"], "of": 48, "to_beat": "10:58.112"}
    return shown


def open_view(page: Page, address: str, name: str, shown: Frame, size: tuple[int, int] = SIZES[0]) -> Wire:
    """Open a view and wait for its face."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    wire = Wire(page, shown)
    who = f"&who={VIEWS[name].who}" if VIEWS[name].who else ""
    page.goto(f"{address}/air/index.html?view={name}{who}")
    expect(page.locator("[data-part=stage]")).not_to_have_attribute("hidden", "")
    page.evaluate("() => document.fonts.ready")
    settle(page)
    return wire


def settle(page: Page) -> None:
    """Wait until what was sent is drawn."""
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def is_shown(name: str, shown: Frame) -> bool:
    """Say whether the view has anything to show: what it is about must be there."""
    view = VIEWS[name]
    return len(shown["lanes"]) >= view.needs and not (view.finished and shown["lanes"]["1"]["status"] != "finished")


def wrong(page: Page, name: str, shown: Frame) -> list[str]:
    """Say what is wrong with the picture of a frame."""
    stage = page.locator("[data-part=stage]")
    if not is_shown(name, shown):
        return [] if stage.get_attribute("data-empty") is not None else ["shown without anybody to show"]
    if stage.get_attribute("data-empty") is not None:
        return ["empty"]
    names = page.locator("[data-part=view] [data-part=name]").all_text_contents()
    known = {form for lane in shown["lanes"].values() for form in (lane["name"], lane["short"])}
    expected = VIEWS[name].names
    if expected is None:
        expected = min(len(shown["lanes"]), len(VIEWS[name].who.split(",")) if VIEWS[name].who else 99)
        expected = sum(lane in shown["lanes"] for lane in "1249") if name == "pace" else expected
    found = [] if len(names) == expected and known.issuperset(names) else [f"names: {names}"]
    return [*found, *faults(page, inset=SAFE, row=VIEWS[name].within), *pale(page)]


def look_through(page: Page, address: str, name: str, cases: list[dict[str, Any]]) -> list[str]:
    """Show case after case on one page of each size and give what is wrong."""
    found = []
    numbers = count(1)
    for size in SIZES:
        wire: Wire | None = None
        for case in (case for case in cases if case["size"] == size):
            shown = frame_of(scene_of(case))
            shown["heat"]["id"] = f"h{next(numbers)}"
            if wire is None:
                wire = open_view(page, address, name, shown, size)
            else:
                wire.show(shown)
                settle(page)
            found += [f"{case}: {fault}" for fault in wrong(page, name, shown)]
        page.unroute_all()
    return found


def test_every_view_is_looked_at() -> None:
    """The list above is the folder's."""
    assert set(VIEWS) == {path.stem for path in (Path(OVERLAY) / "air" / "views").glob("*.js")}


@pytest.mark.parametrize("name", VIEWS)
def test_a_view_keeps_its_shape(page: Page, address: str, name: str) -> None:
    """Every pair of size, lanes, names, scene and mode, one after the other on the same page."""
    assert look_through(page, address, name, pairwise(FACTORS)) == []


@pytest.mark.long
@pytest.mark.parametrize("name", VIEWS)
def test_every_view_keeps_its_shape_always(page: Page, address: str, name: str) -> None:
    """All combinations."""
    assert look_through(page, address, name, all_cases(FACTORS)) == []
