"""Every on-air view with every kind of heat: nothing overflows, overlaps, leaves the safe area or is too pale."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from pages.contrast import pale
from pages.floor import box_around, part
from pages.heats import NAMES, SCENES, Frame, Scene, frame
from pages.measure import faults, settle
from pages.pairs import all_cases, pairwise
from pages.stub import OVERLAY, Wire
from tallywire.wire.catalogue import LANGUAGES

pytestmark = pytest.mark.slow

SAFE = 0.05
"""EBU R 95: graphics keep 5 % from each edge."""
SIZES = ((1920, 1080), (1280, 720), (1080, 1920), (3840, 2160))
"""The last is twice the first and four times its work for a processor that draws: only in the long run."""
FACTORS: dict[str, Any] = {
    "size": SIZES,
    "lanes": (1, 2, 10, 20),
    "names": tuple(NAMES),
    "scene": (*SCENES, "finishing", "official"),
    "mode": ("live", "rehearsal"),
}


@dataclass(frozen=True, slots=True)
class Shown:
    """How a view is asked for, and what is on it.

    `names`: how many, None for one of each lane it is about. `within`: the part in which no two texts may overlap.
    `needs` lanes must be there, and for a finish card the first must have finished. `watch` is the view on the wire.
    """

    who: str = ""
    names: int | None = None
    within: str = "view"
    watch: str = "heat"
    needs: int = 1
    finished: bool = False


VIEWS = {
    "heat": Shown(within="row"),
    "track": Shown(within="row"),
    "runin": Shown(within="row"),
    "clock": Shown(names=0),
    "workout": Shown(names=0),
    "athlete": Shown(who="lane:1", names=1),
    "duel": Shown(who="lane:1,lane:2", names=2, needs=2),
    "pace": Shown(who="lane:1,lane:2,lane:9,lane:4"),
    "finish": Shown(who="lane:1", names=1, finished=True),
    "result": Shown(within="row", watch="result"),
    "event": Shown(within="row", watch="event"),
    "standings": Shown(within="row", watch="standings"),
    "needed": Shown(who="lane:1", names=1, watch="call"),
    "lineup": Shown(within="row", watch="standings"),
    "next": Shown(within="row", watch="next"),
}
ON_A_PAGE = 20
"""So many rows of a table stand on one page."""


HOME = Scene(name="finishing", lanes=2, clock_ms=899_000)
"""Both have finished, so that every view has something to show."""


def scene_of(case: dict[str, Any]) -> Scene:
    """Give the scene of a case; among the finishing some are home."""
    clock_ms = 840_000 if case["scene"] == "finishing" else 402_000
    return Scene(name=case["scene"], lanes=case["lanes"], names=case["names"], mode=case["mode"], clock_ms=clock_ms)


def frame_of(scene: Scene, name: str = "heat") -> Frame:
    """Give the frame of a view, with places in the event."""
    shown = frame(scene, VIEWS[name].watch)
    for lane in shown["lanes"].values() if VIEWS[name].watch == "heat" else ():
        lane["in_event"] = {"place": lane["place"] + 12, "shared": lane["shared"], "of": 48, "to_beat": "10:58.112"}
        lane["points"] = 100 - 2 * lane["place"]
    return shown


def open_view(page: Page, address: str, name: str, shown: Frame, size: tuple[int, int] = SIZES[0]) -> Wire:
    """Open a view, with what else is asked for behind its name, and wait until it is drawn and its face is there."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    wire = Wire(page, shown)
    about = VIEWS[name.partition("&")[0]].who
    who = f"&who={about}" if about else ""
    page.goto(f"{address}/air/index.html?view={name}{who}")
    page.locator("[data-part=stage]:not([data-cleared])").wait_for(state="attached")
    page.evaluate("() => document.fonts.ready")
    settle(page)
    return wire


def is_shown(name: str, shown: Frame) -> bool:
    """Say whether the view has anything to show: what it is about must be there."""
    view = VIEWS[name]
    if name == "next":
        return "next" in shown
    if name in ("event", "standings"):
        return any(table["order"] for table in tables_of(shown))
    return len(shown["lanes"]) >= view.needs and not (view.finished and shown["lanes"]["1"]["status"] != "finished")


def tables_of(shown: Frame) -> list[Frame]:
    """Give the tables over several heats that a frame has, by division."""
    tables: dict[str, Frame] = shown.get("ranking") or shown.get("standings") or {}
    return list(tables.values())


def known_names(shown: Frame) -> set[str]:
    """Give every form of every name a picture of the frame may have."""
    starters = shown["next"]["lanes"].values() if "next" in shown else ()
    rows = [*shown["lanes"].values(), *starters, *(row for table in tables_of(shown) for row in table["rows"].values())]
    return {form for row in rows for form in (row["name"], row["short"])}


def names_expected(name: str, shown: Frame) -> set[int]:
    """Say how many names the picture may have: of all lanes, of those it is about, or of a page that turns by time."""
    view = VIEWS[name]
    if name == "next":
        return {len(shown["next"]["lanes"])}
    if name in ("event", "standings"):
        rows = len(tables_of(shown)[0]["order"])
        return {min(ON_A_PAGE, rows), (rows - 1) % ON_A_PAGE + 1}
    asked = [lane for lane in shown["lanes"] if f"lane:{lane}" in view.who.split(",")] if view.who else shown["lanes"]
    return {len(asked) if view.names is None else view.names}


def wrong(page: Page, name: str, shown: Frame) -> list[str]:
    """Say what is wrong with the picture of a frame."""
    stage = page.locator("[data-part=stage]")
    if not is_shown(name, shown):
        return [] if stage.get_attribute("data-empty") is not None else ["shown without anybody to show"]
    if stage.get_attribute("data-empty") is not None:
        return ["empty"]
    names = page.locator("[data-part=view] [data-part=name]").all_text_contents()
    known = known_names(shown)
    expected = names_expected(name, shown)
    found = [] if len(names) in expected and known.issuperset(names) else [f"names: {names}"]
    return [*found, *faults(page, inset=SAFE, row=VIEWS[name].within), *pale(page)]


def look_through(page: Page, address: str, name: str, cases: list[dict[str, Any]]) -> list[str]:
    """Show case after case on one page of each size and give what is wrong."""
    found = []
    numbers = count(1)
    for size in SIZES:
        wire: Wire | None = None
        for case in (case for case in cases if case["size"] == size):
            shown = frame_of(scene_of(case), name)
            shown["heat"]["id"] = f"h{next(numbers)}"
            if wire is None:
                wire = open_view(page, address, name, shown, size)
            else:
                wire.show(shown)
                settle(page)
            found += [f"{case}: {fault}" for fault in wrong(page, name, shown)]
        page.unroute_all()
    return found


ALWAYS = {*((name, "ar") for name in VIEWS), ("athlete", "fr"), ("clock", "fr"), ("needed", "fr")}
"""What is looked at in other languages without --long too: where words are longest, and from right to left."""


def test_every_view_is_looked_at() -> None:
    """The list above is the folder's."""
    assert set(VIEWS) == {path.stem for path in (Path(OVERLAY) / "air" / "views").glob("*.js")}


@pytest.mark.parametrize("name", VIEWS)
def test_a_view_keeps_its_shape(page: Page, address: str, name: str) -> None:
    """Every pair of size, lanes, names, scene and mode, one after the other on the same page."""
    assert look_through(page, address, name, pairwise(FACTORS | {"size": SIZES[:-1]})) == []


@pytest.mark.parametrize(
    ("name", "language"),
    [
        pytest.param(name, language, marks=[] if (name, language) in ALWAYS else [pytest.mark.long])
        for language in LANGUAGES[1:]
        for name in VIEWS
    ],
)
def test_a_view_keeps_its_shape_in_other_languages(page: Page, address: str, name: str, language: str) -> None:
    """With long words, and written from right to left, in a rehearsal: its mark is not cut either."""
    shown = frame_of(Scene(name="finishing", lanes=10, names="forty", mode="rehearsal", clock_ms=840_000), name)
    open_view(page, address, f"{name}&lang={language}", shown, SIZES[1])
    assert wrong(page, name, shown) == []
    assert (
        page.evaluate(
            """() => [...document.querySelectorAll("[data-part=rehearsal]:not([hidden])")]
            .filter((mark) => mark.firstElementChild.getBoundingClientRect().width > mark.clientWidth)
            .map((mark) => mark.innerText)"""
        )
        == []
    )


@pytest.mark.parametrize("language", ["en", "ar"])
def test_a_chart_stands_over_its_figures(page: Page, address: str, language: str) -> None:
    """Time runs from left to right in every language: each mark of the pace chart is over the end of its round."""
    shown = frame_of(Scene(name="finishing", clock_ms=840_000), "pace")
    open_view(page, address, f"pace&lang={language}", shown)
    [panel, chart, ruler] = [box_around(part(page, each).first) for each in ("panel", "chart", "ruler")]
    assert (chart["x"], chart["width"]) == (ruler["x"], ruler["width"])
    for label in map(box_around, page.locator("[data-part=second]").all()):
        assert panel["x"] <= label["x"]
        assert label["x"] + label["width"] <= panel["x"] + panel["width"]
    for mark in page.locator("[data-part=marks] .pace-mark").all():
        box, at = box_around(mark), float(mark.evaluate("(mark) => mark.style.getPropertyValue('--x')"))
        assert box["x"] + box["width"] / 2 == pytest.approx(chart["x"] + at * chart["width"], abs=1)


@pytest.mark.long
@pytest.mark.parametrize("name", VIEWS)
def test_every_view_keeps_its_shape_always(page: Page, address: str, name: str) -> None:
    """All combinations."""
    assert look_through(page, address, name, all_cases(FACTORS)) == []


@pytest.mark.parametrize("name", [name for name in VIEWS if VIEWS[name].who])
def test_who_is_not_there_is_not_shown(page: Page, address: str, name: str) -> None:
    """A lane under a medical hold is in no frame: the picture goes with it, marks and all, and comes back with it."""
    wire = open_view(page, address, name, frame_of(HOME, name))
    word = page.get_by_text("Unofficial")
    expect(word).to_be_visible()
    held = frame_of(HOME, name)
    held["lanes"] = {}
    held["order"] = []
    held["leader"] = {}
    wire.show(held)
    expect(word).to_be_hidden()
    wire.show(frame_of(HOME, name))
    expect(word).to_be_visible()


@pytest.mark.parametrize("name", VIEWS)
def test_the_backing_hides_what_is_behind_it(page: Page, address: str, name: str) -> None:
    """Text stands on an opaque backing: over black, over white and over a busy picture it is the same, dot by dot."""
    open_view(page, address, name, frame_of(replace(HOME, mode="rehearsal"), name))
    box = page.locator("[data-part=view] > *").bounding_box()
    assert box is not None
    # Without the rounded corners, which are the picture's.
    clip = {"x": box["x"] + 6, "y": box["y"] + 6, "width": box["width"] - 12, "height": box["height"] - 12}
    page.evaluate(
        "() => document.querySelectorAll('[data-part=clock]')"
        ".forEach((clock) => { clock.style.visibility = 'hidden'; })"
    )
    seen = set()
    for ground in ("#000", "#fff", "repeating-linear-gradient(30deg, #f0f 0 9px, #0f0 9px 14px)"):
        page.evaluate("(ground) => { document.documentElement.style.background = ground; }", ground)
        seen.add(page.screenshot(clip=clip))  # type: ignore[arg-type]
    assert len(seen) == 1


@pytest.mark.parametrize("name", VIEWS)
def test_only_the_work_itself_is_not_unofficial(page: Page, address: str, name: str) -> None:
    """The word is on every picture with numbers of the heat; the workout and the next heat are known before it."""
    open_view(page, address, name, frame_of(replace(HOME, mode="rehearsal"), name))
    expect(page.get_by_text("Unofficial")).to_be_visible(visible=name not in ("workout", "next"))
    expect(page.locator("[data-part=rehearsal]")).to_be_visible()


def test_the_run_in_counts_down(page: Page, address: str) -> None:
    """The time left, the reps left, and the work beyond the cap."""
    open_view(page, address, "runin", frame_of(Scene(clock_ms=841_500)))
    expect(page.locator("[data-part=clock]")).to_have_text(re.compile(r"^(1:00|0:5\d)$"))
    last = page.locator("[data-part=row]").filter(has=page.get_by_text("21", exact=True)).first
    expect(last.locator("[data-part=gap]")).to_have_text("to go")
    over: float = last.locator(".need-over").evaluate("(bar) => bar.getBoundingClientRect().width")
    assert over > 10


def test_the_finish_card_follows_who_comes_in(page: Page, address: str) -> None:
    """Without anybody named it is the last to have come in, with the place, the time and what it is worth."""
    scene = Scene(name="finishing", clock_ms=800_000)
    Wire(page, frame_of(scene))
    page.goto(f"{address}/air/index.html?view=finish")
    card = page.locator("[data-part=card]")
    lanes = frame_of(scene)["lanes"].values()
    newest = max((lane for lane in lanes if lane["status"] == "finished"), key=lambda lane: lane["reached_ms"])
    expect(card.locator("[data-part=name]")).to_have_text(newest["name"])
    expect(card.locator("[data-part=figure]")).to_have_text(newest["result"])
    expect(card.locator("[data-part=place]")).to_have_text(str(newest["place"]))
    expect(page.locator("[data-part=facts]")).to_contain_text(f"{newest['points']} points")


@pytest.mark.parametrize(
    ("stage", "words"),
    [
        ("live", "Unofficial"),
        ("provisional", "Provisional · unofficial"),
        ("official", "Official"),
        ("amended", "Official · amended"),
    ],
)
def test_the_mark_follows_the_head_judge(page: Page, address: str, stage: str, words: str) -> None:
    """How far the result is comes from the server; only what is signed goes without the word unofficial."""
    shown = frame_of(Scene(name="official"), "result")
    assert shown["result"] == {"stage": "official"}
    shown["result"] = {"stage": stage}
    open_view(page, address, "result", shown)
    expect(page.locator("[data-part=unofficial]")).to_have_text(words)
    assert faults(page, inset=SAFE, row="row") == []


@pytest.mark.parametrize("name", ["event", "standings"])
def test_a_long_table_turns_its_pages(own_page: Page, address: str, name: str) -> None:
    """Of thirty entries the last ten follow after a while, and the page with a marked entry is shown at once."""
    page = own_page
    page.clock.install()
    open_view(page, address, name, frame_of(Scene(lanes=20, name="finishing", clock_ms=899_000), name))
    names = page.locator("[data-part=row]")
    expect(names).to_have_count(ON_A_PAGE)
    expect(page.locator("[data-part=more]")).to_have_text("1–20 of 30")
    page.clock.run_for(10_500)
    expect(names).to_have_count(10)
    expect(page.locator("[data-part=more]")).to_have_text("21–30 of 30")
    assert faults(page, inset=SAFE, row="row") == []


@pytest.mark.parametrize(("score", "rows"), [("sprint", 3), ("another", 0)])
def test_one_of_several_scores_is_shown_under_its_name(page: Page, address: str, score: str, rows: int) -> None:
    """The table of the score that was asked for; nothing at all where the event does not have it."""
    shown = frame_of(Scene(lanes=10, name="finishing", clock_ms=899_000), "event")
    table = shown["ranking"]["d0"]
    shown["ranking"]["sprint/d0"] = table | {"part": "Across the flats, first", "order": table["order"][:3]}
    Wire(page, shown)
    page.goto(f"{address}/air/index.html?view=event&part={score}")
    if not rows:
        expect(page.locator("[data-part=stage][data-empty]")).to_be_attached()
        return
    expect(page.locator("[data-part=row]")).to_have_count(rows)
    expect(page.locator("[data-part=heat]")).to_contain_text("Across the flats, first")
    assert faults(page, inset=SAFE, row="row") == []


@pytest.mark.parametrize("name", ["result", "event", "standings"])
def test_a_held_lane_leaves_the_tables(page: Page, address: str, name: str) -> None:
    """A row with a lane that is not in the frame is not drawn, even while the table still has it."""
    shown = frame_of(HOME, name)
    wire = open_view(page, address, name, shown)
    rows = page.locator("[data-part=row]")
    before = rows.count()
    held = frame_of(HOME, name)
    del held["lanes"]["1"]
    held["order"] = [2]
    wire.show(held)
    expect(rows).to_have_count(before - 1)


@pytest.mark.parametrize("name", ["event", "standings"])
def test_somebody_in_a_table_is_marked_with_the_page_they_are_on(own_page: Page, address: str, name: str) -> None:
    """The last of this heat in the table is marked wherever it stands, and its page stays."""
    shown = frame_of(Scene(lanes=20, name="finishing", clock_ms=899_000), name)
    last = next(row for row in tables_of(shown)[0]["order"][::-1] if "lane" in tables_of(shown)[0]["rows"][row])
    lane = tables_of(shown)[0]["rows"][last]["lane"]
    page = own_page
    page.clock.install()
    Wire(page, shown)
    page.goto(f"{address}/air/index.html?view={name}&who=lane:{lane}")
    marked = page.locator("[data-part=row][data-marked] [data-part=name]")
    expect(marked).to_have_text(re.compile(f"{shown['lanes'][str(lane)]['name']}|{shown['lanes'][str(lane)]['short']}"))
    page.clock.run_for(21_000)
    expect(marked).to_have_count(1)


def test_lane_introductions_go_lane_by_lane(page: Page, address: str) -> None:
    """With a lane named, that athlete alone: lane, name, from where, the standing before and the best place so far."""
    shown = frame_of(Scene(name="waiting", lanes=10), "lineup")
    Wire(page, shown)
    page.goto(f"{address}/air/index.html?view=lineup&who=lane:3")
    expect(page.locator("[data-part=card] [data-part=name]")).to_have_text(shown["lanes"]["3"]["name"])
    row = shown["standings"]["d0"]["rows"]["e3"]
    expect(page.locator("[data-part=facts]")).to_contain_text(f"{row['before']['total']} points")
    expect(page.locator("[data-part=facts]")).to_contain_text("in Event 3")
    assert faults(page, inset=SAFE, row="view") == []
