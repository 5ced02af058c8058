"""Statuses, penalties, holds, the life of a result, and the table of an event over its heats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from core.folding import fold
from core.samples import CAP_MS, HEAT, Pad, competition, full_round, workout
from tallywire.core.facts import (
    AppealDecided,
    DidNotStart,
    Disqualified,
    Fact,
    HoldPlaced,
    HoldReleased,
    PenaltyGiven,
    SheetChecked,
)
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.heat_book import HeatBook
from tallywire.core.fold.result_status import Stage, result_digest, result_status
from tallywire.core.formats.base import Status
from tallywire.core.model.competition import Competition, Entry, Heat, Measure, Part
from tallywire.core.model.workout import Mark
from tallywire.core.standings.event_table import EventRow, best_result, event_table


def heat(*facts: Fact, clock_ms: int = 1000) -> HeatState:
    """Fold facts into a heat of five rounds of 22 (common practice, no source)."""
    return fold(competition(), HEAT, [Pad("starter").start(), *facts], clock_ms)


def finish(pad: Pad, *, step_ms: int = 1000) -> list[Fact]:
    """All five rounds, a step a rep: done at 110 steps."""
    return [fact for n in range(5) for fact in full_round(pad, n * 22 * step_ms, step_ms=step_ms)]


@pytest.mark.parametrize(
    ("kind", "fields", "status", "result"),
    [
        (DidNotStart, {}, Status.DID_NOT_START, "DNS"),
        (Disqualified, {"reason": "rule 4"}, Status.DISQUALIFIED, "DSQ"),
    ],
)
def test_without_a_result_last_and_no_points(
    kind: type, fields: dict[str, object], status: Status, result: str
) -> None:
    """Did not start and disqualified are placed after all who have a result, with zero points."""
    one, two = Pad("a", 1), Pad("b", 2)
    state = heat(*finish(one), one.conduct(kind, 200_000, **fields), two.reps(100))
    lane = state.lanes[1]
    assert (lane.status, lane.outcome.result, lane.place) == (status, result, 3)
    assert [state.lanes[n].place for n in (2, 3)] == [1, 2]


def test_a_time_penalty_is_added_to_the_time() -> None:
    """Five seconds added to 1:50 give 1:55, which ranks behind 1:52."""
    one, two = Pad("a", 1), Pad("b", 2)
    penalty = one.conduct(PenaltyGiven, 150_000, ms=5000, reason="start")
    state = heat(*finish(one), *finish(two, step_ms=1020), penalty)
    assert [(state.lanes[n].outcome.result, state.lanes[n].place) for n in (1, 2)] == [("1:55.000", 2), ("1:52.200", 1)]


def test_a_rep_penalty_is_taken_from_the_count() -> None:
    """Two reps taken off 22 leave 20 for the ranking, and two more to go."""
    pad = Pad("a", 1)
    penalty = pad.conduct(PenaltyGiven, 50_000, reps=2, reason="lane")
    lane = heat(*full_round(pad, 0), penalty, clock_ms=CAP_MS).lanes[1]
    assert (lane.scored_reps, lane.outcome.result) == (20, "CAP+90")


def test_a_hold_holds_until_released() -> None:
    """A medical hold lasts until it is released; the count is untouched."""
    pad = Pad("a", 1)
    facts = [pad.reps(100), pad.conduct(HoldPlaced, 200)]
    assert heat(*facts).lanes[1].conduct.held
    released = heat(*facts, pad.conduct(HoldReleased, 300)).lanes[1]
    assert (released.conduct.held, released.scored_reps) == (False, 1)


# The life of a result


def book(*facts: Fact) -> HeatBook:
    """A heat of two lanes with these facts."""
    entries = competition(lanes=2)
    found = HeatBook(entries, entries.heats[HEAT])
    for fact in [Pad("starter").start(), *facts]:
        found.add(fact)
    return found


def checks(table: Pad, at_ms: int) -> list[Fact]:
    """Both scoresheets were checked."""
    return [replace(table.conduct(SheetChecked, at_ms, by="Desk"), lane=n) for n in (1, 2)]  # type: ignore[call-arg]


def test_from_live_to_amended() -> None:
    """Live until over and checked, then provisional, official once signed, changed, and amended after an appeal."""
    table, judge = Pad("table-a", 1), Pad("judge-a", 1)
    facts: list[Fact] = [*full_round(Pad("a", 1), 0)]
    assert result_status(book(*facts).at(500)).stage is Stage.LIVE
    assert result_status(book(*facts).at(CAP_MS)).unchecked == (1, 2)
    facts += checks(table, CAP_MS + 1)
    life = result_status(book(*facts).at(CAP_MS))
    assert (life.stage, life.signed_by) == (Stage.PROVISIONAL, None)
    facts.append(judge.sign(CAP_MS + 10, life.digest))
    life = result_status(book(*facts).at(CAP_MS))
    assert (life.stage, life.signed_by, life.changed) == (Stage.OFFICIAL, "Head Judge", False)
    facts.append(table.correct(CAP_MS + 20, 21))
    life = result_status(book(*facts).at(CAP_MS))
    assert (life.stage, life.changed) == (Stage.PROVISIONAL, True)
    facts.append(judge.conduct(AppealDecided, CAP_MS + 30, by="Head Judge", reason="video", upheld=True))
    facts.append(judge.sign(CAP_MS + 40, life.digest))
    life = result_status(book(*facts).at(CAP_MS))
    assert (life.stage, [appeal.reason for appeal in life.appeals]) == (Stage.AMENDED, ["video"])


def test_a_late_fact_cannot_change_an_official_result_unseen() -> None:
    """A tap that arrives after the signature with an earlier time takes the word official off."""
    pad, table = Pad("a", 1), Pad("table-a", 1)
    facts: list[Fact] = [pad.reps(100), *checks(table, CAP_MS + 1)]
    signed = [*facts, Pad("judge-a").sign(CAP_MS + 10, result_status(book(*facts).at(CAP_MS)).digest)]
    assert result_status(book(*signed).at(CAP_MS)).stage is Stage.OFFICIAL
    assert result_status(book(*signed, pad.block(200)).at(CAP_MS)).stage is Stage.PROVISIONAL


def test_a_signature_for_something_else_signs_nothing() -> None:
    """A digest that does not fit leaves the result provisional."""
    table = Pad("table-a", 1)
    life = result_status(book(*checks(table, CAP_MS + 1), Pad("judge-a").sign(CAP_MS + 2, "0" * 16)).at(CAP_MS))
    assert (life.stage, life.changed) == (Stage.PROVISIONAL, True)


def test_what_was_signed_with_one_rep_stays_official() -> None:
    """Heats were signed when one rep was written "1 reps": the digest from then still fits, though it reads "1 rep"."""
    heat = book(Pad("a", 1).reps(1_000)).at(60_000)
    assert heat.outcome(1).result == "1 rep"
    assert result_digest(heat) == "746c5c03ebbc8b0f"


# The event over its heats


def two_heats(*, parts: tuple[Part, ...] = (), minimum: int = 0) -> Competition:
    """Two heats of two lanes in one event."""
    base = competition(replace(workout(), minimum_reps=minimum), lanes=2)
    later = Heat(id="later", name="Heat 2", event="event", lanes={1: "e3", 2: "e4"})
    entries = {f"e{n}": Entry(id=f"e{n}", name=f"Entry {n}", short=f"E{n}", division="women") for n in (1, 2, 3, 4)}
    events = {"event": replace(base.events["event"], parts=parts)}
    return replace(base, entries=entries, events=events, heats={**base.heats, "later": later})


def moved(facts: list[Fact]) -> list[Fact]:
    """The same facts in the later heat, under other ids."""
    return [replace(fact, heat="later", id=f"later.{fact.id}") for fact in facts]


def table(entries: Competition, facts: list[Fact], part: int = 0) -> Sequence[EventRow]:
    """The event's table for the women."""
    event = entries.events["event"]
    return event_table(CompetitionBook(entries, facts).at_last_facts(), event, event.scored_parts()[part], "women")


def test_places_run_over_all_heats() -> None:
    """While the later heat races, places in the event count both heats; heats not started are not in the table."""
    one, two = Pad("a", 1), Pad("b", 2)
    first = [Pad("starter").start(), *finish(one), *full_round(two, 0), Pad("table-a").end(CAP_MS)]
    rows = table(two_heats(), first)
    assert [(row.entry.id, row.place) for row in rows] == [("e1", 1), ("e2", 2)]
    later = moved([Pad("starter").start(), *finish(one, step_ms=900), *full_round(two, 0)[:10]])
    rows = table(two_heats(), [*first, *later])
    assert [(row.entry.id, row.place, int(row.points), row.settled) for row in rows] == [
        ("e3", 1, 100, True),
        ("e1", 2, 90, True),
        ("e2", 3, 80, True),
        ("e4", 4, 70, False),
    ]
    beat = best_result(rows, before_heat="later")
    assert beat is not None
    assert (beat.entry.id, beat.outcome.result) == ("e1", "1:50.000")


def test_too_little_work_earns_nothing() -> None:
    """Below the event's least work a place stands, but earns no points."""
    facts = [Pad("starter").start(), *full_round(Pad("a", 1), 0), Pad("b", 2).reps(100), Pad("table-a").end(CAP_MS)]
    assert [(row.place, int(row.points)) for row in table(two_heats(minimum=20), facts)] == [(1, 100), (2, 0)]


def test_parts_have_places_of_their_own() -> None:
    """One performance, three scores: the time after round one, the reps at 10 s, and the whole."""
    parts = (
        Part(id="sprint", name="Sprint", measure=Measure.TIME_AT, points="table", mark=Mark(round=1, station=4)),
        Part(id="early", name="Early", measure=Measure.REPS_AT, points="table", at_ms=10_000),
        Part(id="whole", name="Whole", measure=Measure.RESULT, points="table"),
    )
    fast, steady = Pad("a", 1), Pad("b", 2)
    facts = [
        Pad("starter").start(),
        *full_round(fast, 0, step_ms=500),
        *full_round(steady, 0),
        *full_round(steady, 22_000),
        Pad("table-a").end(CAP_MS),
    ]
    entries = two_heats(parts=parts)
    assert [(row.entry.id, row.outcome.result) for row in table(entries, facts, 0)] == [
        ("e1", "0:11.000"),
        ("e2", "0:22.000"),
    ]
    assert [(row.entry.id, row.outcome.result) for row in table(entries, facts, 1)] == [
        ("e1", "20 reps"),
        ("e2", "10 reps"),
    ]
    assert [(row.entry.id, row.outcome.result) for row in table(entries, facts, 2)] == [
        ("e2", "CAP+66"),
        ("e1", "CAP+88"),
    ]


def test_who_has_not_reached_the_mark_is_ranked_by_reps() -> None:
    """In a part for the time at a mark, those who have not reached it follow by scored reps."""
    part = Part(id="sprint", name="Sprint", measure=Measure.TIME_AT, points="table", mark=Mark(round=2, station=4))
    facts = [Pad("starter").start(), *full_round(Pad("a", 1), 0), Pad("b", 2).reps(100), Pad("table-a").end(CAP_MS)]
    rows = table(two_heats(parts=(part,)), facts)
    assert [(row.entry.id, row.outcome.result, row.outcome.status) for row in rows] == [
        ("e1", "22 reps", Status.CAPPED),
        ("e2", "1 rep", Status.CAPPED),
    ]


def test_penalties_count_in_every_part() -> None:
    """Twelve seconds make 11 s at the mark 23 s, behind 22 s; of those who have not passed it two reps are taken."""
    part = Part(id="sprint", name="Sprint", measure=Measure.TIME_AT, points="table", mark=Mark(round=1, station=4))
    fast, steady = Pad("a", 1), Pad("b", 2)
    seconds = fast.conduct(PenaltyGiven, 30_000, ms=12_000, reps=0, reason="start")
    facts = [Pad("starter").start(), *full_round(fast, 0, step_ms=500), *full_round(steady, 0), seconds]
    rows = table(two_heats(parts=(part,)), facts)
    assert [(row.entry.id, row.outcome.result) for row in rows] == [("e2", "0:22.000"), ("e1", "0:23.000")]
    reps = steady.conduct(PenaltyGiven, 30_000, ms=0, reps=2, reason="lane")
    short = [Pad("starter").start(), *full_round(fast, 0)[:4], *full_round(steady, 0)[:5], reps]
    by_count = [(row.entry.id, row.outcome.result) for row in table(two_heats(parts=(part,)), short)]
    assert by_count == [("e1", "4 reps"), ("e2", "3 reps")]


def test_a_finisher_whose_penalty_leaves_less_than_the_least_work_earns_nothing() -> None:
    """All 110 done in 1:50 and 20 taken: the time and the place stand, and with a least of 100 they earn no points."""
    one, two = Pad("a", 1), Pad("b", 2)
    penalty = one.conduct(PenaltyGiven, 120_000, ms=0, reps=20, reason="lane")
    facts = [Pad("starter").start(), *finish(one), *finish(two, step_ms=1100), penalty, Pad("table-a").end(CAP_MS)]
    rows = table(two_heats(minimum=100), facts)
    assert [(row.entry.id, row.place, row.outcome.result, int(row.points)) for row in rows] == [
        ("e1", 1, "1:50.000", 0),
        ("e2", 2, "2:01.000", 90),
    ]
