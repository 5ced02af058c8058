"""Two heats of one event that run at the same time on two floors: nothing is called certain that the other may undo."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from random import Random, SystemRandom

import pytest

from core.called import WORDING
from core.floors import floors_apart
from core.samples import Pad, seeds
from core.test_one_voice import contradictions, drawn, heat_cap
from tallywire.core.call.steps import see
from tallywire.core.call.whole import look_ahead, make_call
from tallywire.core.clinching.before import division_before
from tallywire.core.clinching.prospects import Stakes
from tallywire.core.clinching.stakes import heat_stakes
from tallywire.core.cues import CueDesk
from tallywire.core.facts import Fact, PenaltyGiven
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.forecast.answer import LaneForecast
from tallywire.core.model.competition import Competition
from tallywire.core.model.workout import Station, Workout
from tallywire.core.standings.in_event import event_rows
from tallywire.core.standings.overall import division_series

REPS, CAP_MS, LATER_MS = 6, 60_000, 7_000
"""The work of a lane; west starts so much later than east."""
EAST, WEST = "easth1", "westh1"


def two_at_once(random: Random) -> Competition:
    """One event with a heat on each of two floors, two or three lanes each, for time; some bring points along."""
    work = floors_apart(2, one_event=True, lanes=random.choice((2, 3)))
    workout = Workout(format="for_time", rounds=((Station(movement="Row", amount=REPS),),), time_cap_ms=CAP_MS)
    heats = {heat: work.heats[heat] for heat in (EAST, WEST)}
    lanes = [entry for heat in heats.values() for entry in heat.lanes.values()]
    entries = {each: replace(work.entries[each], points_before=random.choice((0, 0, 5, 15, 40))) for each in lanes}
    return replace(work, heats=heats, entries=entries, events={"event": replace(work.events["event"], workout=workout)})


def heat_of(random: Random, heat: str, lanes: Sequence[int]) -> list[Fact]:
    """A heat in which some come home, and are called at once or not, some run out of time, and some withdraw."""
    facts: list[Fact] = [replace(Pad(f"table-{heat}").start(), heat=heat)]
    for lane in lanes:
        pad, done = Pad(f"lane-{lane}-{heat}", lane), random.choice((REPS, REPS, REPS, REPS - 1, 2))
        times = sorted(random.sample(range(2_000, CAP_MS - 1_000, 500), done))
        facts += [pad.reps(at_ms) for at_ms in times]
        if done == REPS and random.random() < 0.8:
            facts.append(pad.finish(times[-1] + 200))
        elif done < 3 and random.random() < 0.5:
            facts.append(pad.withdraw(times[-1] + 500))
    return [replace(fact, heat=heat) for fact in facts]


def at(work: Competition, facts: Sequence[Fact], east_ms: int, *, west_ms: int | None = None) -> Snapshot:
    """Both heats at one moment, with what has happened by then."""
    clocks = {EAST: east_ms, WEST: max(0, east_ms - LATER_MS) if west_ms is None else west_ms}
    known = [fact for fact in facts if fact.at_ms <= clocks[fact.heat]]
    return CompetitionBook(work, known).at_clocks(clocks)


def stakes_of(now: Snapshot, heat: str) -> Stakes:
    """What the program says is needed, seen from one of the heats."""
    own = now.heats[heat]
    before = {"all": division_before(now, "all", "event")}
    return heat_stakes(now.competition, own.settled, before=before, rows=event_rows(now, own))["all"]


def wrong_claims(said: Stakes, places: Mapping[str, int], overall: Mapping[str, int]) -> Iterator[str]:
    """Everything that was said for certain and did not hold in the end.

    As `answers` says, a place is taken to be the entry's own, and `leading` never counts on a rival without a result.
    """
    if said.clinched is not None and overall[said.clinched] != 1:
        yield f"{said.clinched} had clinched, and is {overall[said.clinched]}"
    for entry, prospect in said.prospects.items():
        need, place = prospect.need, places.get(entry)
        if place is not None and place not in need.possible:
            yield f"{entry} came {place}, of {need.possible}"
        own = list(places.values()).count(place or 0) == 1
        if own and place in need.clinching and overall[entry] != 1:
            yield f"{entry} came {place}, which was to do, and is {overall[entry]}"
        if own and overall[entry] == 1 and len(places) == len(overall) and place not in need.leading:
            yield f"{entry} came {place} and leads, of {need.leading}"


@pytest.mark.parametrize("seed", seeds(range(16), quick=4))
def test_what_is_certain_holds_in_the_end(seed: int) -> None:
    """At every moment of two heats that overlap, what is said to be clinched, possible or enough holds as they end."""
    random = Random(seed)
    work = two_at_once(random)
    facts = [fact for heat in (EAST, WEST) for fact in heat_of(random, heat, list(work.heats[heat].lanes))]
    end = division_series(at(work, facts, 2 * CAP_MS), "all")
    overall = {row.entry: row.place for row in end.rows}
    places = {row.entry: row.cells[0].place or 0 for row in end.rows if row.cells[0].has_result}
    wrong, said = [], Counter[str]()
    for at_ms in range(1_000, CAP_MS + LATER_MS + 2_000, 3_000):
        now = at(work, facts, at_ms)
        for heat in (EAST, WEST):
            stakes = stakes_of(now, heat)
            said["needs"] += bool(stakes.prospects)
            wrong += [f"at {at_ms} seen from {heat}: {line}" for line in wrong_claims(stakes, places, overall)]
    assert wrong == []
    assert said["needs"] >= 20


def test_nobody_has_clinched_while_the_other_floor_may_still_win() -> None:
    """East is over and won in 20 s by one who brings 5 points. West, at 10 s, may still be faster; at 21 s it is not.

    With 10 points a place the winner then leads by at least 15; seen from either floor nothing was said before.
    """
    random = Random(1)
    work = two_at_once(random)
    lanes = {heat: dict(list(work.heats[heat].lanes.items())[:2]) for heat in (EAST, WEST)}
    heats = {heat: replace(work.heats[heat], lanes=lanes[heat]) for heat in (EAST, WEST)}
    first = lanes[EAST][1]
    known = {entry for each in lanes.values() for entry in each.values()}
    entries = {each: replace(work.entries[each], points_before=5 if each == first else 0) for each in known}
    work = replace(work, heats=heats, entries=entries)
    winner, table = Pad("lane-1-e", 1), Pad("table-e")
    east = [table.start(), winner.reps(20_000, REPS), winner.finish(20_000), table.end(21_000)]
    west = Pad("table-w")
    facts = [replace(fact, heat=EAST) for fact in east] + [replace(west.start(), heat=WEST)]
    for west_ms, from_east, from_west in ((10_000, None, None), (20_001, None, first)):
        now = at(work, facts, 30_000, west_ms=west_ms)
        assert (stakes_of(now, EAST).clinched, stakes_of(now, WEST).clinched) == (from_east, from_west)
    over = at(work, facts, 30_000, west_ms=CAP_MS + 1)
    assert (stakes_of(over, EAST).clinched, stakes_of(over, WEST).clinched) == (first, first)


def test_a_forecast_counts_the_other_floor_once_it_is_over() -> None:
    """While a heat of the event runs on another floor the forecast of this one is as if it were still to come."""
    random = Random(3)
    work = two_at_once(random)
    east = heat_of(random, EAST, list(work.heats[EAST].lanes))
    west = heat_of(random, WEST, list(work.heats[WEST].lanes))
    none = [fact for fact in west if fact.at_ms < 1]
    told = []
    for facts, west_ms in (([*east, *none], 0), ([*east, *west], 15_000), ([*east, *west], CAP_MS + 1)):
        now = at(work, facts, 20_000, west_ms=west_ms)
        outlook = look_ahead(work, see(now, now.heats[EAST]))
        assert outlook is not None
        told.append({lane: (each.finish_ms, each.event_places) for lane, each in outlook.lanes.items()})
    to_come, running, over = told
    assert str(to_come) == str(running)
    assert str(running) != str(over)


def test_a_forecast_follows_what_is_changed_in_a_heat_that_is_over() -> None:
    """A penalty after the end on the other floor counts in the next forecast as in a book that is filled anew."""
    random = Random(1)
    work = two_at_once(random)
    east, west = (heat_of(random, heat, list(work.heats[heat].lanes)) for heat in (EAST, WEST))
    given = [
        PenaltyGiven(id=f"t.{n}", heat=WEST, at_ms=CAP_MS, sender="t", sequence=n, lane=lane, reason="r", ms=40_000)
        for n, lane in enumerate(work.heats[WEST].lanes, start=1)
    ]
    known, clocks = [*(fact for fact in east if fact.at_ms <= 20_000), *west], {EAST: 20_000, WEST: CAP_MS + 1}

    def told(book: CompetitionBook) -> Mapping[int, LaneForecast]:
        now = book.at_clocks(clocks)
        outlook = look_ahead(work, see(now, now.heats[EAST]))
        assert outlook is not None
        return outlook.lanes

    book = CompetitionBook(work, known)
    before, again = told(book), told(book)
    for fact in given:
        book.add(fact)
    after = told(book)
    assert before == again != after
    assert after == told(CompetitionBook(work, [*known, *given]))


OF_THE_EVENT = {"event_places", "points", "overall_places"}


def test_chances_in_the_event_are_not_given_while_it_runs_on_another_floor() -> None:
    """A heat to come is left out of them and may change them later; one that runs makes them wrong now."""
    random = Random(3)
    work = two_at_once(random)
    east = heat_of(random, EAST, list(work.heats[EAST].lanes))
    west = heat_of(random, WEST, list(work.heats[WEST].lanes))
    told = []
    for facts, west_ms in ((east, 0), ([*east, *west], 15_000), ([*east, *west], CAP_MS + 1)):
        now = at(work, facts, 20_000, west_ms=west_ms)
        sight = see(now, now.heats[EAST])
        call = make_call(work, sight, look_ahead(work, sight), desk=CueDesk(), wording=WORDING)
        assert all("heat_places" in lane["outlook"] for lane in call["lanes"].values() if "outlook" in lane)
        said = {name for lane in call["lanes"].values() for name in lane.get("outlook", ())}
        told.append((said & OF_THE_EVENT, call["overall"]["all"].get("elsewhere")))
    assert told == [(OF_THE_EVENT, None), (set(), True), (OF_THE_EVENT, None)]


def overlapping(folder: Path, seed: int) -> list[str]:
    """What two heats of an event contradict in, both stopped in the middle."""
    work, facts = drawn(folder, seed)
    dice, lines = Random(seed), []
    for event in work.events:
        pair = [heat.id for heat in work.heats.values() if heat.event == event][:2]
        clocks = {heat: dice.randint(1, heat_cap(work, event)) for heat in pair}
        known = [fact for fact in facts if fact.at_ms <= clocks.get(fact.heat, 10**9)]
        now = CompetitionBook(work, known).at_clocks(clocks, others_ms=10**9)
        for heat in (now.heats[each] for each in pair):
            told = contradictions(now, heat) if heat.started else ()
            lines += [f"seed {seed}, {clocks} seen from {heat.heat.id}: {line}" for line in told]
    return lines


@pytest.mark.slow
def test_views_of_two_running_heats_do_not_contradict_each_other(tmp_path: Path, pytestconfig: pytest.Config) -> None:
    """In fresh competitions, two heats of an event stopped in the middle give every number the same in every view."""
    asked = os.environ.get("ONE_VOICE_SEED")
    first = int(asked) if asked else SystemRandom().randrange(10**9)
    count = 1 if asked else 300 if pytestconfig.getoption("--long") else 5
    lines = [line for seed in range(first, first + count) for line in overlapping(tmp_path, seed)]
    assert not lines, f"{len(lines)} from seed {first}\n" + "\n".join(lines[:30])


def test_nothing_is_said_of_the_overall_lead_while_an_event_before_still_runs() -> None:
    """East races the first event, west the second, all of one division: chances overall wait for the end of east's."""
    random = Random(5)
    work = floors_apart(2, one_event=True, lanes=3)
    workout = Workout(format="for_time", rounds=((Station(movement="Row", amount=REPS),),), time_cap_ms=CAP_MS)
    events = {each: replace(work.events["event"], id=each, name=each, workout=workout) for each in ("first", "second")}
    heats = {heat: replace(work.heats[heat], event=event) for heat, event in ((EAST, "first"), (WEST, "second"))}
    lanes = {entry for heat in heats.values() for entry in heat.lanes.values()}
    work = replace(work, heats=heats, events=events, entries={each: work.entries[each] for each in lanes})
    facts = [fact for heat in (EAST, WEST) for fact in heat_of(random, heat, [1, 2, 3])]
    for east_ms, is_told in ((20_000, False), (CAP_MS + 1, True)):
        now = at(work, facts, east_ms, west_ms=15_000)
        outlook = look_ahead(work, see(now, now.heats[WEST]))
        assert outlook is not None
        assert [bool(each.overall_places) for each in outlook.lanes.values()] == [is_told] * 3
        assert all(each.heat_places for each in outlook.lanes.values())
