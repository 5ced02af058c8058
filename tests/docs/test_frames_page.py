"""docs/frames.md names every field that a frame has."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from core.called import SCENARIOS, call, women
from core.samples import CAP_MS, HEAT, Pad, competition, full_round
from tallywire.core.facts import AppealDecided, AutomaticSet, Fact, HoldPlaced, NoteSent, PenaltyGiven, ViewTaken
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.result_status import result_status
from tallywire.core.fold.show import ShowBook
from tallywire.core.model.competition import Briefing
from tallywire.core.model.outputs import Item, Output
from tallywire.core.ranking.points import PointsTable
from tallywire.core.show.surroundings import Surroundings
from tallywire.core.standings.in_event import in_event
from tallywire.core.views.booth import booth_frame
from tallywire.core.views.gaps import gap_frame
from tallywire.core.views.heat import Frame, heat_frame
from tallywire.core.views.results import results_frame
from tallywire.core.views.show import show_frame, subjects_frame
from tallywire.core.views.table import table_frame
from tallywire.shell.files import load_competition, load_recording

PAGE = (Path(__file__).parents[2] / "docs" / "frames.md").read_text(encoding="utf-8")
NAMED = set(re.findall(r"`([a-z_.0-9]+)`", PAGE))
KEYED_BY_DATA = {
    "lanes",
    "divisions",
    "splits",
    "loads",
    "worth",
    "to_beat",
    "overall",
    "values",
    "rounds",
    "views",
    "outputs",
    "heats",
    "subjects",
    "missing",
    "notes",
    "ranking",
    "rows",
}
ENTRIES = competition(lanes=3)


def facts() -> list[Fact]:
    """A heat in which every field has a value."""
    one, two, three = Pad("a", 1), Pad("b", 2), Pad("c", 3)
    return [
        Pad("starter").start(),
        *[fact for n in range(5) for fact in full_round(one, n * 22_000)],
        *full_round(two, 0),
        three.reps(100),
        three.withdraw(5000),
        two.conduct(PenaltyGiven, 6000, reps=1, reason="lane"),
        two.conduct(AppealDecided, 7000, by="Head Judge", reason="video", upheld=True),
        Pad("table-a").end(CAP_MS - 1),
        Pad("judge-a").sign(CAP_MS, "0" * 16),
    ]


def frames() -> dict[str, Frame]:
    """One frame of each view."""
    now = CompetitionBook(ENTRIES, facts()).at_clocks({HEAT: CAP_MS})
    heat = now.heats[HEAT]
    state, places = heat.state, in_event(now, heat)
    return {
        "heat": heat_frame(ENTRIES, state, places),
        "gaps": gap_frame(ENTRIES, state, places),
        "results": results_frame(now, heat),
        "table": table_frame(ENTRIES, state, result_status(heat)),
        "show": shown(),
        "subjects": subjects_frame(state, result_status(heat).stage, Surroundings()),
        "booth": told(),
    }


def told() -> Frame:
    """A booth with everything in it."""
    brief = Briefing(say="ENT", ipa="ɛ", age_class="35 to 39", facts=("Won",), caution="x")
    known = replace(ENTRIES, briefings={"e1": brief})
    stamp: dict[str, Any] = {"heat": HEAT, "at_ms": 0, "unix_ms": 1, "sender": "spotter-a", "sequence": 1}
    note = NoteSent(id="n1", text="chalk", spotter="Ada", lane=1, **stamp)
    snapshot = CompetitionBook(known, [*facts(), note]).at_last_facts()
    return booth_frame(snapshot, snapshot.heats[HEAT])


def shown() -> Frame:
    """An output with everything on it."""
    output = Output(id="world", name="World", timecode="25", rundown=(Item(view="heat"),))
    said: dict[str, Any] = {"id": "d1", "heat": HEAT, "at_ms": 0, "sender": "desk-a", "output": "world", "unix_ms": 1}
    taken = ViewTaken(**said, sequence=1, view="heat", params={"heat": HEAT})
    automatic = AutomaticSet(**{**said, "id": "d2"}, sequence=2, automatic="take")
    return show_frame(ENTRIES, ShowBook({"world": output}, [taken, automatic]).outputs())


def keys(value: Any, name: str = "") -> Iterator[str]:
    """Every key in a frame but those that are data themselves, such as lane numbers."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if name not in KEYED_BY_DATA and not key.isdigit():
                yield key
            yield from keys(inner, key)
    elif isinstance(value, list):
        for inner in value:
            yield from keys(inner, name)


def calls() -> list[Frame]:
    """Calls in which together every field has a value: cues, chases, a cut; a time to beat; pieces of intervals."""
    base = ENTRIES.heats[HEAT]
    second = replace(base, id="h2", lanes={1: "e3"})
    first = replace(base, lanes={1: "e1", 2: "e2"})
    work = replace(ENTRIES, heats={HEAT: first, "h2": second})
    earlier = [fact for fact in facts() if getattr(fact, "lane", 0) != 3]
    pad = Pad("lane-1-z", 1)
    later = [
        replace(fact, heat="h2") for fact in (Pad("table-z").start(), *full_round(pad, 0), *full_round(pad, 22_000))
    ]
    rising = replace(work, points={"table": PointsTable((90, 100, 80))})
    tides = load_recording(SCENARIOS / "estuary-tides.ndjson")
    pieces = call(load_competition(SCENARIOS / "estuary.toml"), tides, tides[0].heat, 100_000)
    return [women(440_000), pieces, *(call(each, [*earlier, *later], "h2", 50_000) for each in (work, rising))]


def test_every_field_of_the_call_is_documented() -> None:
    """Each field of the call is named on the page, and these calls have every field that its section names."""
    found = {key for frame in calls() for key in keys(frame)}
    named = NAMED | {part for name in NAMED for part in name.split(".")}
    assert found - named == set()
    section = PAGE[PAGE.index("## `call`") :]
    fields = {row.split("|")[1] for row in section.splitlines() if row.startswith("| `")}
    assert {name for cell in fields for name in re.findall(r"`(?:[a-z]+\.)?([a-z_0-9]+)`", cell)} - found == set()


@pytest.mark.parametrize("view", ["heat", "gaps", "results", "table", "show", "subjects"])
def test_every_field_is_documented(view: str) -> None:
    """Each field of the frame is named on the page."""
    named = NAMED | {part for name in NAMED for part in name.split(".")}
    assert set(keys(frames()[view])) - named == set()


@pytest.mark.parametrize("view", ["heat", "gaps", "results", "table", "show", "subjects"])
def test_a_frame_has_no_null(view: str) -> None:
    """No value in a frame is null: a merge patch (RFC 7396) would take it for a removal."""

    def values(value: Any) -> Iterator[Any]:
        inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
        for each in inner:
            yield from values(each)
        yield value

    assert None not in list(values(frames()[view]))


def test_a_held_lane_is_off_every_picture() -> None:
    """A medical hold takes the lane out of the heat and gap views; the table goes on seeing it."""

    held = Pad("table-b", 1).conduct(HoldPlaced, 8000)
    book = CompetitionBook(ENTRIES, [*facts(), held])
    heat = book.heats[HEAT].at(CAP_MS)
    state = heat.state
    for frame in (heat_frame(ENTRIES, state), gap_frame(ENTRIES, state)):
        assert "1" not in frame["lanes"]
        assert 1 not in frame["order"]
        assert frame["leader"]["lane"] == 2
    assert table_frame(ENTRIES, state, result_status(heat))["lanes"]["1"]["held"]
