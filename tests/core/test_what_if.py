"""When facts are told in a rehearsal, and what would be if a heat had gone otherwise. Worked out by hand."""

from __future__ import annotations

from dataclasses import replace

from core.samples import CAP_MS, HEAT, Pad, competition, full_round
from tallywire.core.facts import Fact, HeatStarted, NoRepCalled, RepCounted, ViewTaken, Withdrawn
from tallywire.core.fold.book import LATER_MS, CompetitionBook
from tallywire.core.fold.heat import HeatState
from tallywire.core.model.competition import Competition
from tallywire.core.rehearsal.placing import BREAK_MS, Placed, heat_places, place
from tallywire.core.rehearsal.what_if import WhatIf, changed

BEGIN = 5_000_000
UNIX = 1_800_000_000_000


def two_heats() -> Competition:
    """The sample competition with a second heat."""
    base = competition()
    return replace(base, heats={**base.heats, "h2": replace(base.heats[HEAT], id="h2", name="Heat 2")})


def started(heat: str, unix_ms: int, pad: Pad) -> HeatStarted:
    """A start at a wall time."""
    return replace(pad.start(), heat=heat, unix_ms=unix_ms)


def times(placed: list[Placed]) -> list[int]:
    """When each fact is told, since the beginning."""
    return [each.at_ms - BEGIN for each in placed]


def test_facts_are_told_when_they_happened() -> None:
    """A tap at 10 s is told ten seconds after the start; one that came late counts when it came, not before."""
    table, pad, late = Pad("table-a"), Pad("lane-1-a", 1), Pad("lane-2-a", 2)
    facts: list[Fact] = [started(HEAT, UNIX, table), pad.reps(10_000), late.reps(4_000), pad.reps(12_000)]
    placed = place(competition(), [facts], begin_ms=BEGIN)
    assert times(placed) == [0, 10_000, 10_000, 12_000]
    assert [each.fact.at_ms for each in placed] == [0, 10_000, 4_000, 12_000]
    assert placed[0].fact == replace(facts[0], unix_ms=BEGIN)  # type: ignore[call-arg]


def test_a_break_between_heats_is_cut_and_a_pause_in_a_heat_is_not() -> None:
    """Twenty minutes until the next call are ten seconds; two minutes without a tap in a heat stay two minutes."""
    table, pad = Pad("table-a"), Pad("lane-1-a", 1)
    first = [started(HEAT, UNIX, table), *full_round(pad, 0), pad.reps(142_000), table.end(150_000)]
    second = [
        table.call(0, UNIX + 20 * 60_000, heat="h2"),
        started("h2", UNIX + 21 * 60_000, table),
        replace(pad.reps(5_000), heat="h2"),
    ]
    placed = place(two_heats(), [[*first, *second]], begin_ms=BEGIN)
    end = 150_000
    assert times(placed)[-5:] == [142_000, end, end + BREAK_MS, end + 2 * BREAK_MS, end + 2 * BREAK_MS + 5000]
    heats = heat_places(two_heats(), placed)
    assert [(each.heat, each.start_ms - BEGIN) for each in heats] == [(HEAT, 0), ("h2", end + 2 * BREAK_MS)]
    assert heats[0].end_ms - BEGIN == 150_000
    assert heats[1].end_ms - heats[1].start_ms == CAP_MS


def test_recordings_of_other_days_follow_each_other() -> None:
    """A recording of an earlier day that is played after one of a later day begins ten seconds after that one's end."""
    table, pad = Pad("table-a"), Pad("lane-1-a", 1)
    later = [started(HEAT, UNIX, table), pad.reps(3_000), table.end(4_000)]
    earlier = [started("h2", UNIX - 86_400_000, table), replace(pad.reps(2_000), heat="h2")]
    placed = place(two_heats(), [later, earlier], begin_ms=BEGIN)
    assert times(placed) == [0, 3_000, 4_000, 4_000 + BREAK_MS, 6_000 + BREAK_MS]


def rounds() -> list[Placed]:
    """Lane 1 does two rounds, lane 2 one and a half, a rep a second."""
    table, one, two = Pad("table-a"), Pad("lane-1-a", 1), Pad("lane-2-a", 2)
    facts = [*full_round(one, 0), *full_round(one, 22_000), *full_round(two, 0), *full_round(two, 22_000)[:11]]
    ordered = sorted(facts, key=lambda fact: fact.order)
    return place(competition(), [[started(HEAT, UNIX, table), *ordered]], begin_ms=BEGIN)


def state(placed: list[Placed], clock_ms: int = LATER_MS) -> HeatState:
    """The heat as these facts make it."""
    book = CompetitionBook(competition(), [each.fact for each in placed if each.fact.at_ms <= clock_ms])
    return book.at_clocks({HEAT: clock_ms}).heats[HEAT].state


def test_a_no_rep_costs_the_time_of_a_repetition() -> None:
    """Lane 1 is called at its tap of 10 s: that one comes at 11 s and everything after it a second later; lane 2 is not
    touched."""
    without, called = rounds(), changed(rounds(), [WhatIf(kind="no_rep", heat=HEAT, lane=1, at_ms=9_500)])
    assert len(called) == len(without) + 1
    assert [each.fact.at_ms for each in called if isinstance(each.fact, NoRepCalled)] == [10_000]
    for clock_ms, reps in ((9_000, 9), (10_500, 9), (11_000, 10), (44_000, 43), (45_000, 44)):
        lanes = state(called, clock_ms).lanes
        assert lanes[1].scored_reps == reps, clock_ms
        assert lanes[2].scored_reps == state(without, clock_ms).lanes[2].scored_reps
    assert [each.at_ms for each in called] == sorted(each.at_ms for each in called)


def test_those_who_withdraw_do_nothing_more() -> None:
    """Lane 2 withdraws at 20.5 s with 20 reps, and is out."""
    gone = changed(rounds(), [WhatIf(kind="withdrawal", heat=HEAT, lane=2, at_ms=20_500)])
    lane = state(gone).lanes[2]
    assert (lane.status.value, lane.scored_reps) == ("withdrawn", 20)
    assert [each.at_ms - BEGIN for each in gone if isinstance(each.fact, Withdrawn)] == [21_000]
    assert state(gone).lanes[1].scored_reps == 44


def test_changes_are_made_one_after_the_other() -> None:
    """Two no-reps cost two repetitions; a withdrawal before it leaves no work at which a no-rep could be called."""
    first = WhatIf(kind="no_rep", heat=HEAT, lane=1, at_ms=5_000)
    twice = changed(rounds(), [first, replace(first, at_ms=20_000)])
    assert state(twice, 46_000).lanes[1].scored_reps == 44
    assert state(twice, 45_900).lanes[1].scored_reps == 43
    out = changed(rounds(), [replace(first, kind="withdrawal"), first])
    assert [each for each in out if isinstance(each.fact, NoRepCalled)] == []
    assert not any(isinstance(each.fact, RepCounted) and each.fact.lane == 1 and each.fact.at_ms > 5000 for each in out)


def test_what_was_recorded_stays() -> None:
    """Without changes the facts are the same objects."""
    placed = rounds()
    assert changed(placed, []) == placed


def test_the_show_is_told_at_its_moment_of_the_heat() -> None:
    """A take at 15 s of the heat is told there, whatever wall time it says; in the order of the show."""
    table = Pad("table-a")
    takes = [
        ViewTaken(
            id=f"v{at_ms}",
            heat=HEAT,
            at_ms=at_ms,
            sender="desk-a",
            sequence=number,
            unix_ms=1,
            output="world",
            view="heat",
            params={},
            by="operator",
        )
        for number, at_ms in enumerate((0, 15_000), start=1)
    ]
    placed = place(
        competition(), [[started(HEAT, UNIX, table), *takes, Pad("lane-1-a", 1).reps(20_000)]], begin_ms=BEGIN
    )
    assert times(placed) == [0, 0, 15_000, 20_000]
    assert [each.fact.unix_ms for each in placed[1:3]] == [BEGIN, BEGIN + 15_000]  # type: ignore[attr-defined]


def test_a_no_rep_costs_half_a_second_at_least_and_twenty_seconds_at_most() -> None:
    """A tap 0.4 s, 19.999 s or an hour's third after the one before: what follows comes so much later."""
    table, pad = Pad("table-a"), Pad("lane-1-a", 1)
    for took_ms, costs_ms in ((400, 500), (19_999, 19_999), (20_001, 20_000), (300_000, 20_000)):
        facts = [started(HEAT, UNIX, table), pad.reps(10_000), pad.reps(10_000 + took_ms)]
        placed = place(competition(), [facts], begin_ms=BEGIN)
        called = changed(placed, [WhatIf(kind="no_rep", heat=HEAT, lane=1, at_ms=10_001)])
        assert called[-1].fact.at_ms == 10_000 + took_ms + costs_ms, took_ms
