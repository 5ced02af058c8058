"""Snapshots: one instant, that later facts leave alone, and results kept as long as nothing touches them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.samples import CAP_MS, HEAT, Pad, competition
from core.test_formats import WORKS, work_facts
from core.test_in_event import facts as two_heats_facts
from core.test_in_event import two_heats
from tallywire.core.facts import Fact, HeatEnded, PenaltyGiven, Withdrawn
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.conduct import ruled
from tallywire.core.fold.result_status import result_status
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.formats.base import Limits, Outcome
from tallywire.core.formats.registry import format_named
from tallywire.core.standings.event_table import event_table
from tallywire.core.standings.in_event import event_rows, in_event
from tallywire.core.standings.overall import division_series

LANES = (1, 2, 3)
ALWAYS = ("for_time", "max_load", "ladder", "timed intervals")
EVERY_FORMAT = [pytest.param(name, marks=[] if name in ALWAYS else [pytest.mark.slow]) for name in WORKS]


@st.composite
def heats(draw: st.DrawFn, until_ms: int) -> list[Fact]:
    """A random heat of three lanes: work, penalties, a withdrawal, and perhaps an early end, in any order."""
    table, judge = Pad("table-a"), Pad("judge-a")
    facts: list[Fact] = [table.start(), *(fact for lane in LANES for fact in draw(work_facts(lane)))]
    for lane in draw(st.sets(st.sampled_from(LANES))):
        at_ms = draw(st.integers(0, until_ms))
        kinds = {PenaltyGiven: {"reps": 1, "ms": 500, "reason": "lane"}, Withdrawn: {}}
        kind = draw(st.sampled_from(list(kinds)))
        facts.append(replace(judge.conduct(kind, at_ms, **kinds[kind]), lane=lane))  # type: ignore[call-arg]
    if draw(st.booleans()):
        facts.append(table.end(draw(st.integers(1, until_ms))))
    return draw(st.permutations(facts))


def fresh(heat: HeatSnapshot, lane: int) -> Outcome:
    """A lane judged from its tally at the very millisecond of the clock, nothing kept."""
    counting, conduct = format_named(heat.event.workout.format).counting, heat.conduct(lane)
    limits = Limits(
        until_ms=heat.until_ms,
        over=heat.ended_ms is not None or heat.clock_ms >= heat.event.workout.time_cap_ms,
        started=heat.started is not None,
        clock_ms=heat.clock_ms,
        penalty_reps=conduct.penalty_reps,
        penalty_ms=conduct.penalty_ms,
    )
    return ruled(counting.outcome(heat.plan, heat.tally(lane), limits), conduct)


@pytest.mark.slow
@pytest.mark.parametrize("name", EVERY_FORMAT)
@given(st.data())
def test_a_kept_outcome_is_what_a_fresh_one_would_be(name: str, data: st.DataObject) -> None:
    """In every format, whatever facts and clocks come in turn: an outcome changes with facts and moments alone."""
    work = WORKS[name]
    book = CompetitionBook(competition(work, lanes=len(LANES)))
    clocks = st.integers(0, work.time_cap_ms + 1_000)
    edges = st.sampled_from([at + step for at in book.heats[HEAT].setup.moments for step in (-1, 0, 1)])
    for fact in data.draw(heats(work.time_cap_ms)):
        book.add(fact)
        heat = book.at_clocks({HEAT: data.draw(clocks | edges)}).heats[HEAT]
        for lane in LANES:
            assert heat.outcome(lane) == fresh(heat, lane)
            assert heat.state.lanes[lane].outcome == fresh(heat, lane)


def all_of(now: Snapshot) -> list[object]:
    """What is asked of a snapshot: states, tables, places, status and standing."""
    event = now.competition.events["e1"]
    found: list[object] = [event_table(now, event, event.scored_parts()[0], "open"), division_series(now, "open")]
    for heat in now.heats.values():
        for state in (heat.state, heat.settled):
            found.append((state.lanes, state.order, state.leader, state.over, state.clock_ms))
        found += [in_event(now, heat), event_rows(now, heat), result_status(heat)]
    return found


@pytest.mark.slow
@given(st.permutations(two_heats_facts()), st.lists(st.integers(0, CAP_MS + 5_000), min_size=30, max_size=30))
@settings(max_examples=20)
def test_what_is_kept_from_before_changes_nothing(facts: list[Fact], clocks: list[int]) -> None:
    """A book that was asked everything after every fact, at any clock, gives what one that was asked nothing gives."""
    book, new = CompetitionBook(two_heats()), CompetitionBook(two_heats(), facts)
    for fact, clock_ms in zip(facts, clocks, strict=False):
        book.add(fact)
        assert all_of(book.at_clocks({"e1": clock_ms}, others_ms=CAP_MS))
    for clock_ms in clocks[-3:]:
        asked = all_of(book.at_clocks({"e1": clock_ms}, others_ms=CAP_MS))
        assert asked == all_of(new.at_clocks({"e1": clock_ms}, others_ms=CAP_MS))


def test_a_snapshot_does_not_hear_of_later_facts() -> None:
    """What was frozen before a fact, and not looked at until after it, is as if the fact had not come."""
    facts = two_heats_facts()
    book = CompetitionBook(two_heats(), facts[:-1])
    frozen = book.at_last_facts()
    book.add(facts[-1])
    book.add(replace(Pad("table-z").end(500), heat="e1"))
    assert all_of(frozen) == all_of(CompetitionBook(two_heats(), facts[:-1]).at_last_facts())
    assert all_of(frozen) != all_of(book.at_last_facts())


def test_a_lane_that_no_fact_touched_is_the_same_object() -> None:
    """A tap makes one lane anew; the others, with all that was made of them, are taken over."""
    book = CompetitionBook(competition(), [Pad("table-a").start(), Pad("a", 1).reps(1_000, 30), Pad("b", 2).reps(900)])
    before = book.at_clocks({HEAT: 2_000}).heats[HEAT].state
    book.add(Pad("c", 3).reps(1_500))
    after = book.at_clocks({HEAT: 2_100}).heats[HEAT].state
    assert after.lanes[1] is before.lanes[1]
    assert after.lanes[3] is not before.lanes[3]


def test_an_end_is_an_end_for_every_lane() -> None:
    """When the officials end a heat, outcomes kept as of before the end are judged anew."""
    book = CompetitionBook(competition(), [Pad("table-a").start(), Pad("a", 1).reps(1_000)])
    assert book.at_clocks({HEAT: 2_000}).heats[HEAT].outcome(1).status == "working"
    end = Pad("table-b").end(3_000)
    assert isinstance(end, HeatEnded)
    book.add(end)
    assert book.at_clocks({HEAT: 3_001}).heats[HEAT].outcome(1).status == "capped"
