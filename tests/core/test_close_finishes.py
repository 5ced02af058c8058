"""Finishes that taps cannot tell apart."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.samples import HEAT, Pad, competition, workout
from tallywire.core.facts import Fact, PenaltyGiven
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.close_finishes import CloseFinish, close_finishes
from tallywire.core.model.workout import Station

WORK = workout(rounds=((Station(movement="row", amount=1),),))


def found(
    *finishes: tuple[int, int | None], men: tuple[int, ...] = (), more: tuple[Fact, ...] = ()
) -> list[CloseFinish]:
    """What is too close when lanes 1, 2 … finish at these times, each known to so many milliseconds."""
    taps = [
        replace(Pad(f"lane-{lane}-a", lane).reps(at_ms), uncertain_ms=uncertain)
        for lane, (at_ms, uncertain) in enumerate(finishes, start=1)
    ]
    book = CompetitionBook(competition(WORK, lanes=len(finishes), men=men), [Pad("table-a").start(), *taps, *more])
    return list(close_finishes(book.at_last_facts().heats[HEAT]))


@pytest.mark.parametrize(("apart", "close"), [(0, True), (19, True), (20, True), (21, False)])
def test_nearer_than_both_can_be_off_is_too_close(apart: int, close: bool) -> None:
    """Times known to 12 and to 8 ms tell finishes apart that are more than 20 ms apart, and no others."""
    expected = [CloseFinish(lanes=(1, 2), apart_ms=apart, within_ms=20)] if close else []
    assert found((60_000, 12), (60_000 + apart, 8)) == expected


def test_every_pair_is_named_the_better_lane_first() -> None:
    """Of three within reach of each other all pairs are named."""
    assert [each.lanes for each in found((60_020, 15), (60_000, 15), (60_010, 15))] == [(2, 3), (2, 1), (3, 1)]


def test_times_that_say_nothing_are_taken_as_they_are() -> None:
    """Facts of the table, and of recordings from before, have no uncertainty: equal times are shared as ever."""
    assert found((60_000, None), (60_000, None)) == []


def test_other_divisions_do_not_matter() -> None:
    """Who is not placed against each other need not be told apart."""
    assert found((60_000, 50), (60_001, 50), men=(2,)) == []


def test_a_penalty_is_no_tap() -> None:
    """Ten seconds added to a time do not make two finishes close that were not, nor part two that were."""
    made = PenaltyGiven(id="p", heat=HEAT, at_ms=61_000, sender="table-a", sequence=9, lane=2, reason="lane", ms=10_000)
    assert [each.lanes for each in found((60_000, 12), (60_005, 8), more=(made,))] == [(1, 2)]
    assert found((70_000, 12), (60_005, 8), more=(made,)) == []
