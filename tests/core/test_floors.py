"""Several floors: which heat is on each, what comes next there, and how late each runs."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

import pytest

from core.floors import floors_apart
from core.samples import Pad, seeds
from tallywire.core.facts import Fact, HeatCalled
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.floor import FLOOR, Floors, floor_name
from tallywire.core.show.surroundings import next_heat
from tallywire.core.standings.in_event import in_event
from tallywire.core.views.day import day_ahead, day_rows
from tallywire.core.views.heat import heat_frame


def start(heat: str, unix_ms: int) -> Fact:
    """The heat was started."""
    return replace(Pad(f"table-{heat}").start(), heat=heat, unix_ms=unix_ms)


def called(heat: str, unix_ms: int) -> HeatCalled:
    """The heat was called to its floor."""
    return Pad(f"call-{heat}").call(0, unix_ms, heat=heat)


def test_each_floor_has_its_own_heat() -> None:
    """A call or a start moves its own floor alone; before any, the first heat of each is on it; order never matters."""
    facts = [start("easth1", 1000), called("westh2", 2000), start("easth2", 3000)]
    for shuffled in (facts, facts[::-1]):
        book = CompetitionBook(floors_apart(2), shuffled)
        assert book.floors.heats == {"east": "easth2", "west": "westh2"}
    book = CompetitionBook(floors_apart(2))
    seen = [dict(book.floors.heats)]
    for fact in facts:
        book.add(fact)
        seen.append(dict(book.floors.heats))
    assert [each["east"] for each in seen] == ["easth1", "easth1", "easth1", "easth2"]
    assert [each["west"] for each in seen] == ["westh1", "westh1", "westh2", "westh2"]


def test_floors_are_named_on_the_wire() -> None:
    """`floor:ID` is the heat of that floor, `floor` that of the first one, and any other name is a heat's."""
    floors = Floors({"east": "h1", "west": "h2"})
    assert [floors.heat_of(each) for each in ("floor", "floor:east", "floor:west", "h2")] == ["h1", "h1", "h2", "h2"]
    assert floors.names({"h1", "h9"}) == {"h1", "h9", "floor", "floor:east"}
    assert floors.names({"h2"}) == {"h2", "floor:west"}
    assert floors.moved(Floors({"east": "h3", "west": "h2"})) == {"h1", "h3"}
    assert floors.moved(floors) == set()
    one = Floors({"": "h1"})
    assert (one.heat_of("floor"), one.heat_of("floor:east"), one.names({"h1"})) == ("h1", "floor:east", {"h1", "floor"})
    assert (floor_name(""), floor_name("east")) == (FLOOR, "floor:east")


def test_next_and_late_are_of_the_floor() -> None:
    """What comes next on a floor, and which start says how late it runs, are its own heats'."""
    work = floors_apart(2)
    book = CompetitionBook(work, [start("easth1", 1000), start("westh1", 2000), start("westh2", 3000)])
    now = book.at(unix_ms=4000)
    east, west = now.heats["easth1"], now.heats["westh1"]
    found = next_heat(now, east)
    assert found is not None and found.heat.id == "easth2"
    assert next_heat(now, west) is None
    assert [row["id"] for row in day_ahead(now, "east")] == ["easth1", "easth2"]
    assert [row["id"] for row in day_ahead(now, "west")] == ["westh2"]
    other_way = CompetitionBook(work, [start("westh2", 2000), start("westh1", 3000)]).at(unix_ms=4000)
    assert [row["id"] for row in day_ahead(other_way, "west")] == ["westh1"]
    assert {row["id"]: row["floor"] for row in day_rows(now)} == {heat: heat[:4] for heat in work.heats}


def test_a_title_names_the_floor() -> None:
    """Where floors have names a heat is told from that of another floor; with one floor nothing is added."""
    work, plain = floors_apart(2, one_event=True), floors_apart(1)
    assert work.title_of(work.heats["westh1"]) == "Event · Heat 1 · West"
    assert plain.title_of(plain.heats["h1"]) == "Event- · Heat 1"
    assert [(place.floor, place.lane) for place in work.places] == [("east", 1), ("east", 2), ("west", 1), ("west", 2)]


def test_one_floor_leaves_no_trace_in_frames() -> None:
    """Without named floors neither the heat view nor the day knows the word."""
    work = floors_apart(1)
    now = CompetitionBook(work, [start("h1", 0)]).at(unix_ms=1000)
    shown: list[dict[str, Any]] = [heat_frame(work, now.heats["h1"].state), *day_rows(now)]
    assert "floor" not in str(shown)


@pytest.mark.parametrize("seed", seeds(range(8), quick=2))
def test_two_running_heats_of_one_event_share_only_their_places_in_it(seed: int) -> None:
    """Whatever happens on one floor, a heat of the same event on another keeps its clock, order, counts and gaps: only
    places in the event and their points move."""
    random = Random(seed)
    work = floors_apart(2, one_event=True)
    book = CompetitionBook(work, [start("easth1", 0), start("westh1", random.randrange(5000))])
    east, west = Pad("lane-1-e", 1), Pad("lane-2-w", 2)
    for at_ms in sorted(random.sample(range(5000, 60_000), 20)):
        before = _apart(book, "westh1")
        book.add(replace(east.reps(at_ms, random.randint(1, 9)), heat="easth1"))
        assert _apart(book, "westh1") == before
        book.add(replace(west.reps(at_ms, random.randint(1, 9)), heat="westh1"))
        assert _apart(book, "westh1") != before


def _apart(book: CompetitionBook, heat: str) -> dict[str, Any]:
    now = book.at(unix_ms=70_000)
    frame = heat_frame(book.competition, now.heats[heat].state, in_event(now, now.heats[heat]))
    lanes = {lane: {**each, "in_event": 0, "points": 0} for lane, each in frame["lanes"].items()}
    return {**frame, "lanes": lanes}
