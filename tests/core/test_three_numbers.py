"""Place in the heat, place in the event and the time to beat: three numbers of a lane, worked out by hand."""

from __future__ import annotations

from dataclasses import replace

from core.samples import CAP_MS, HEAT, Pad, competition, full_round
from tallywire.core.facts import DidNotStart, Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Competition, Measure, Part
from tallywire.core.ranking.points import TiePolicy
from tallywire.core.standings.in_event import in_event
from tallywire.core.views.heat import Frame, heat_frame


def two_heats(**changes: object) -> Competition:
    """Lanes 1 and 2 race in the first heat, e3 and e4 in the second."""
    base = competition(lanes=4)
    first = replace(base.heats[HEAT], lanes={1: "e1", 2: "e2"})
    event = replace(base.events["event"], **changes)  # type: ignore[arg-type]
    second = replace(first, id="later", lanes={1: "e3", 2: "e4"})
    return replace(base, heats={HEAT: first, "later": second}, events={"event": event})


def five_rounds(pad: Pad, step_ms: int) -> list[Fact]:
    """All the work at so many milliseconds a step: done at 110 steps."""
    return [fact for n in range(5) for fact in full_round(pad, n * 22 * step_ms, step_ms=step_ms)]


def lanes(work: Competition, first: list[Fact], second: list[Fact]) -> dict[str, Frame]:
    """The lanes of the second heat's frame after both."""
    start, end = Pad("table-a").start(), Pad("table-b").end(CAP_MS)
    later = [replace(fact, heat="later", id=f"later.{fact.id}") for fact in (start, *second)]
    now = CompetitionBook(work, [start, end, *first, *later]).at_last_facts()
    heat = now.heats["later"]
    frame = heat_frame(work, heat.state, in_event(now, heat))
    found: dict[str, Frame] = frame["lanes"]
    return found


def test_three_numbers_that_are_not_the_same() -> None:
    """Second on the floor may be third in the event, and what is to beat was set in the heat before."""
    first = [*five_rounds(Pad("a", 1), 1000), *five_rounds(Pad("b", 2), 1300)]
    second = [*five_rounds(Pad("c", 1), 900), *five_rounds(Pad("d", 2), 1200)]
    behind = lanes(two_heats(), first, second)["2"]
    assert behind["place"] == 2
    assert behind["in_event"] == {"place": 3, "shared": False, "of": 4, "to_beat": "1:50.000"}
    assert behind["points"] == 80


def test_points_are_the_events_over_all_heats() -> None:
    """A lane that leads its heat has the points of its place in the event, not those of the heat."""
    first = [*five_rounds(Pad("a", 1), 1000), *five_rounds(Pad("b", 2), 1100)]
    second = [*five_rounds(Pad("c", 1), 1200), *five_rounds(Pad("d", 2), 1300)]
    found = lanes(two_heats(), first, second)
    assert [(found[lane]["place"], found[lane]["points"]) for lane in ("1", "2")] == [(1, 80), (2, 70)]


def test_points_of_a_tie_go_as_the_event_says() -> None:
    """Level over two heats: the better place's points, or the mean of both (as in sailing, RRS A7), not cut off."""
    first = [*five_rounds(Pad("a", 1), 1000), *five_rounds(Pad("b", 2), 1100)]
    second = [*five_rounds(Pad("c", 1), 1000), Pad("d", 2).conduct(DidNotStart, 0)]
    shared = lanes(two_heats(), first, second)
    mean = lanes(two_heats(ties=TiePolicy.MEAN), first, second)
    assert (shared["1"]["points"], mean["1"]["points"]) == (100, 95)
    assert shared["2"]["points"] == 0


def test_of_several_parts_it_is_the_first_and_it_is_named() -> None:
    """Two scores from one performance: place and points are of the first part, whose name the frame says."""
    parts = (
        Part(id="early", name="First minute", measure=Measure.REPS_AT, points="table", at_ms=60_000),
        Part(id="whole", name="Whole", measure=Measure.RESULT, points="table"),
    )
    work = two_heats(parts=parts)
    book = CompetitionBook(work, [Pad("table-a").start(), *five_rounds(Pad("a", 1), 1000)])
    now = book.at_last_facts()
    frame = heat_frame(work, now.heats[HEAT].state, in_event(now, now.heats[HEAT]))
    assert frame["event"]["part"] == "First minute"
    plain = CompetitionBook(two_heats()).heats[HEAT].at(0).state
    assert "part" not in heat_frame(two_heats(), plain)["event"]


def test_before_the_start_there_are_no_points() -> None:
    """A heat that has not started says nothing about the event."""
    work = two_heats()
    now = CompetitionBook(work).at_last_facts()
    heat = now.heats[HEAT]
    frame = heat_frame(work, heat.state, in_event(now, heat))
    assert all("points" not in lane and "in_event" not in lane for lane in frame["lanes"].values())
