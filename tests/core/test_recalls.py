"""A false start: what was counted before the next start never counts, whenever it arrives.

That a recalled start leaves no count, and that the clock begins anew, is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.folding import fold
from core.samples import HEAT, Pad, competition
from tallywire.core.facts import Fact, HeatStarted
from tallywire.core.facts.ledger import Ledger
from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.heat_book import HeatBook
from tallywire.core.fold.open_heat import closed_because

COMPETITION = competition()
AGAIN_MS = 60_000
"""The second start comes so long after the first."""


def day() -> tuple[Pad, HeatStarted, HeatStarted, Fact]:
    """A table, its false start, the good one, and the recall between them, eight seconds into the false one."""
    table = Pad("table-a")
    false = table.start()
    recall = table.recall(8_000, false)
    return table, false, replace(table.start(), unix_ms=false.unix_ms + AGAIN_MS), recall


def by_start(fact: Fact, start: HeatStarted) -> Fact:
    """Let a fact name the start by whose clock its time was told."""
    return replace(fact, start=start.id)


def state(*facts: Fact) -> HeatState:
    """Fold the facts in the order given."""
    return fold(COMPETITION, HEAT, list(facts), 120_000)


def test_touches_of_a_false_start_never_count() -> None:
    """Two touches under the false start, one that arrives after the restart, leave nothing."""
    _, false, again, recall = day()
    pad = Pad("lane-1-a", 1)
    early, late = by_start(pad.reps(5_000), false), by_start(pad.reps(7_000), false)
    found = state(false, early, recall, again, late, by_start(pad.reps(6_000), again))
    assert found.lanes[1].tally.done == 1
    assert found.started == again


def test_what_a_pad_without_a_network_counts_in_the_good_race_does_count() -> None:
    """A touch at 75 s by the clock of the false start was made 15 s after the next start, 60 s later."""
    _, false, again, recall = day()
    pad = Pad("lane-1-a", 1)
    facts = [by_start(pad.reps(at_ms), false) for at_ms in (5_000, AGAIN_MS - 1, 75_000)]
    found = state(false, recall, again, *facts)
    assert (found.lanes[1].tally.done, found.lanes[1].tally.reached_ms) == (1, 15_000)


def test_until_the_heat_starts_again_nothing_counts() -> None:
    """After the recall the clock waits, the count is 0, and lanes may still count in the heat."""
    _, false, _, recall = day()
    touch = by_start(Pad("lane-1-a", 1).reps(5_000), false)
    found = state(false, touch, recall)
    assert (found.started, found.lanes[1].tally.done) == (None, 0)
    book = HeatBook(COMPETITION, COMPETITION.heats[HEAT])
    book.fill([false, touch, recall])
    assert closed_because(book.ledger.standing(None)) is None
    assert book.on_floor_unix_ms == false.unix_ms + 8_000


def test_a_recall_that_is_taken_back_brings_the_race_back() -> None:
    """A void of the recall gives what stood before it."""
    table, false, _, recall = day()
    touch = by_start(Pad("lane-1-a", 1).reps(5_000), false)
    found = state(false, touch, recall, table.void(9_000, recall))
    assert (found.started, found.lanes[1].tally.done) == (false, 1)


def test_a_start_that_was_entered_wrongly_keeps_its_touches() -> None:
    """A start that is voided, and not recalled, was a wrong time: what names it stands."""
    table, false, again, _ = day()
    touch = by_start(Pad("lane-1-a", 1).reps(5_000), false)
    assert state(false, touch, table.void(5_500, false), again).lanes[1].tally.done == 1


def test_an_end_in_a_false_start_does_not_end_the_good_race() -> None:
    """The table's end and its correction of the count name the start too, and go with it."""
    table, false, again, recall = day()
    end, correction = by_start(table.end(7_000), false), by_start(table.correct(6_000, 9, lane=1), false)
    found = state(false, end, correction, recall, again)
    assert (found.over, found.lanes[1].tally.done) == (False, 0)


def test_of_two_false_starts_each_touch_goes_to_the_race_it_was_made_in() -> None:
    """What names the first and was made during the second counts for neither; after the third it counts."""
    table, first, second, recall = day()
    third = replace(table.start(), unix_ms=second.unix_ms + AGAIN_MS)
    pad = Pad("lane-1-a", 1)
    facts = [by_start(pad.reps(at_ms), first) for at_ms in (5_000, 70_000, 130_000)]
    found = state(first, recall, second, *facts, table.recall(30_000, second), third)
    assert (found.lanes[1].tally.done, found.lanes[1].tally.reached_ms) == (1, 10_000)


@pytest.mark.parametrize("whole", [True, False])
def test_a_recall_outdates_every_lane(whole: bool) -> None:
    """The ledger names all lanes that a recall may change, when it comes one by one, and gives the same when filled."""
    _, false, again, recall = day()
    touches = [by_start(Pad(f"lane-{lane}-a", lane).reps(5_000), false) for lane in (1, 2)]
    ledger = Ledger()
    if whole:
        ledger.fill([false, *touches, recall, again])
    else:
        for fact in (false, *touches):
            ledger.add(fact)
        assert ledger.add(recall) == {None, 1, 2}
        ledger.add(again)
    assert [list(ledger.standing(lane)) for lane in (1, 2)] == [[], []]
    assert again in ledger.standing(None)
    assert false not in ledger.standing(None)


def test_a_late_touch_does_not_slip_into_a_lane_that_was_looked_at() -> None:
    """A lane without facts that was asked for before a late touch of the false start came still has none."""
    _, false, again, recall = day()
    ledger = Ledger()
    ledger.fill([false, recall, again])
    assert list(ledger.standing(1)) == []
    ledger.add(by_start(Pad("lane-1-a", 1).reps(5_000), false))
    assert list(ledger.standing(1)) == []


def test_a_start_that_is_entered_earlier_than_the_false_one_brings_nothing_back() -> None:
    """The signal of the good race is put ten seconds back: what was made before the recall still never counts."""
    table, false, again, recall = day()
    earlier = replace(table.start(), unix_ms=false.unix_ms - 10_000)
    pad = Pad("lane-1-a", 1)
    facts = [by_start(pad.reps(at_ms), false) for at_ms in (5_000, 7_999, 8_000)]
    found = state(false, *facts, recall, again, table.void(5_500, again), earlier)
    assert (found.lanes[1].tally.done, found.lanes[1].tally.reached_ms) == (1, 18_000)
