"""Every picture with every kind of heat: nothing overflows, nothing overlaps, nothing leaves the frame."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page

from pages.heats import NAMES, SCENES, Scene, frame
from pages.measure import faults
from pages.pairs import all_cases, pairwise
from pages.stub import Wire

pytestmark = pytest.mark.slow

RASTERS = ((1280, 720), (1920, 1080), (3840, 2160))
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


def cases(*, every: bool) -> list[Any]:
    """Give the cases of all pages: all of them, or as many as hold every pair."""
    made = []
    for name, (_, sizes, _) in PICTURES.items():
        factors = HEATS | {"size": sizes}
        for case in all_cases(factors) if every else pairwise(factors):
            label = f"{name}-{case['lanes']}-{case['names']}-{case['scene']}-{case['size'][1]}"
            made.append(pytest.param(name, case, id=label))
    return made


def look_at(page: Page, address: str, name: str, scene: Scene, size: tuple[int, int]) -> Wire:
    """Open a page of a size on a scene and wait until it is drawn."""
    view, _, _ = PICTURES[name]
    page.set_viewport_size({"width": size[0], "height": size[1]})
    wire = Wire(page, frame(scene, view))
    folder, _, query = name.partition("?")
    page.goto(f"{address}/{folder}/index.html?{query}")
    page.wait_for_function(
        "lanes => document.querySelectorAll('[data-part=row]').length === lanes && document.fonts.status === 'loaded'",
        arg=scene.lanes,
    )
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    return wire


def check(page: Page, address: str, name: str, case: dict[str, Any]) -> None:
    """Look at one case and find no fault."""
    scene = Scene(name=case["scene"], lanes=case["lanes"], names=case["names"])
    look_at(page, address, name, scene, case["size"])
    assert faults(page, inset=PICTURES[name][2]) == []


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
    look_at(page, address, "air", Scene(lanes=20, names="forty"), (1920, 1080))
    assert faults(page, inset=0.05) == []
    page.evaluate(f"() => {{ const row = document.querySelectorAll('[data-part=row]')[1]; {harm}; }}")
    assert any(fault.startswith(found) for fault in faults(page, inset=0.05))


@pytest.mark.parametrize(("name", "case"), cases(every=False))
def test_a_picture_keeps_its_shape(page: Page, address: str, name: str, case: dict[str, Any]) -> None:
    """Every pair of lanes, names, scene and size: no text spills, overlaps, or leaves the frame (± 1 pixel)."""
    check(page, address, name, case)


@pytest.mark.long
@pytest.mark.parametrize(("name", "case"), cases(every=True))
def test_every_picture_keeps_its_shape(page: Page, address: str, name: str, case: dict[str, Any]) -> None:
    """All combinations."""
    check(page, address, name, case)


@pytest.mark.parametrize("name", PICTURES)
@pytest.mark.parametrize(
    "scene",
    [
        Scene(lanes=12, divisions=2, mode="rehearsal"),
        Scene(lanes=20, divisions=2, names="forty", name="capped"),
        Scene(lanes=20, divisions=3, names="rtl"),
        Scene(lanes=10, format="amrap", names="forty", clock_ms=800_000),
        Scene(lanes=20, name="finishing", names="forty", mode="rehearsal", clock_ms=800_000),
    ],
    ids=["two-divisions", "two-full-divisions", "three-divisions", "amrap", "finishing"],
)
def test_rarer_heats_keep_their_shape_too(page: Page, address: str, name: str, scene: Scene) -> None:
    """Several divisions, repeating rounds, finishers among the working, and the rehearsal mark on top."""
    sizes = PICTURES[name][1]
    for size in ((1920, 1080), (820, 1180)):
        if size in sizes:
            look_at(page, address, name, scene, size)
            assert faults(page, inset=PICTURES[name][2]) == []


@pytest.mark.parametrize("name", PICTURES)
@pytest.mark.parametrize("lanes", [4, 10, 20])
@pytest.mark.parametrize("result", ["1:12:54.900", "102.5 kg", "10 bars + 10", "CAP+1110"])
def test_long_results_keep_their_place(page: Page, address: str, name: str, lanes: int, result: str) -> None:
    """Whatever a format announces stays in its column."""
    view, _, inset = PICTURES[name]
    scene = Scene(lanes=lanes, names="forty", name="capped")
    shown = frame(scene, view)
    for lane in shown["lanes"].values():
        lane["result"] = result
    look_at(page, address, name, scene, (1920, 1080)).show(shown)
    page.wait_for_function(
        "result => [...document.querySelectorAll('[data-part=figure]')].every((cell) => cell.textContent === result)",
        arg=result,
    )
    assert faults(page, inset=inset) == []


@pytest.mark.parametrize("name", PICTURES)
def test_an_empty_heat_is_a_calm_picture(page: Page, address: str, name: str) -> None:
    """No lanes: the head alone, and nothing out of shape."""
    look_at(page, address, name, Scene(lanes=0, name="waiting"), (1920, 1080))
    page.get_by_text("Event 4").wait_for()
    assert faults(page, inset=PICTURES[name][2]) == []
