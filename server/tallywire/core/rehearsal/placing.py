"""When each fact of recordings is told as they are played one after the other.

A recording does not say when a fact came to the server, so each counts as told when it happened, or with the one before
it where that was later. Between heats nothing happens for long: such a break is cut short. While a heat runs nothing is
cut, for its clock runs by wall time.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from tallywire.core.facts import ASIDE, Fact, HeatCalled, HeatRecalled, HeatStarted
from tallywire.core.fold.book import LATER_MS, CompetitionBook
from tallywire.core.formats.base import Status
from tallywire.core.model.competition import Competition

BREAK_MS = 10_000
"""So long a break between heats is at most."""
_TIMED = (HeatStarted, HeatCalled, HeatRecalled)
_STILL_AT_WORK = frozenset({Status.READY, Status.WORKING, Status.CAPPED, Status.TIMED})


@dataclass(frozen=True, slots=True)
class Placed:
    """A fact and when it is told, in Unix milliseconds of the time that a rehearsal keeps."""

    at_ms: int
    fact: Fact


@dataclass(frozen=True, slots=True)
class HeatPlace:
    """A heat of a rehearsal: when its clock started (the last time), and when it was over."""

    heat: str
    start_ms: int
    end_ms: int


def place(competition: Competition, recordings: Iterable[Sequence[Fact]], *, begin_ms: int) -> list[Placed]:
    """Give all facts in the order in which they are told, the first one at `begin_ms`.

    The wall times that facts say are moved along, so that clocks fit. Raises KeyError for a heat that is not in the
    competition.
    """
    found: list[Placed] = []
    for facts in recordings:
        begin = found[-1].at_ms + BREAK_MS if found else begin_ms
        found += _Placing(busy_ms(competition, facts), begin).take(facts)
    return found


def heat_places(competition: Competition, placed: Sequence[Placed]) -> list[HeatPlace]:
    """Give the heats that have started, in the order of their starts."""
    starts = [each.fact for each in placed if isinstance(each.fact, HeatStarted)]
    busy = busy_ms(competition, [each.fact for each in placed])
    zeros = {fact.heat: fact.unix_ms - fact.at_ms for fact in starts}
    found = [HeatPlace(heat, zero, zero + busy.get(heat, 0)) for heat, zero in zeros.items()]
    return sorted(found, key=lambda each: each.start_ms)


def busy_ms(competition: Competition, facts: Sequence[Fact]) -> Mapping[str, int]:
    """Give, by heat, up to which time on its clock something can happen: the cap, if somebody works until then."""
    book = CompetitionBook(competition, facts)
    heats = book.at_clocks({}, others_ms=LATER_MS).heats
    return {
        name: heat.until_ms
        if any(lane.status in _STILL_AT_WORK for lane in heat.state.lanes.values())
        else min(heat.until_ms, max((lane.finish_ms or 0 for lane in heat.state.lanes.values()), default=0))
        for name, heat in heats.items()
        if heat.started is not None
    }


class _Placing:
    """Places the facts of one recording: `_shift` is how much later they are told than they happened."""

    def __init__(self, busy: Mapping[str, int], begin_ms: int) -> None:
        self._busy = busy
        self._told_ms = begin_ms
        self._shift: int | None = None
        self._zeros: dict[str, int] = {}
        self._newest: dict[str, int] = {}
        self._to_come: Counter[str] = Counter()

    def take(self, facts: Sequence[Fact]) -> list[Placed]:
        self._to_come.update(fact.heat for fact in facts if self._is_work(fact))
        return [self._place(fact) for fact in facts]

    def _place(self, fact: Fact) -> Placed:
        happened_ms = self._happened(fact)
        if happened_ms is not None:
            self._settle_shift(happened_ms)
            self._told_ms = max(self._told_ms, happened_ms + (self._shift or 0))
        self._to_come[fact.heat] -= self._is_work(fact)
        moved = self._moved(fact)
        if isinstance(moved, HeatStarted):
            self._zeros[moved.id] = self._newest[moved.heat] = moved.unix_ms - moved.at_ms - (self._shift or 0)
        return Placed(self._told_ms, moved)

    def _moved(self, fact: Fact) -> Fact:
        """Give a fact with its wall time moved along. What is beside the counts is ordered by that, so it says now."""
        if isinstance(fact, ASIDE):
            return replace(fact, unix_ms=self._told_ms)
        return replace(fact, unix_ms=fact.unix_ms + (self._shift or 0)) if isinstance(fact, _TIMED) else fact

    def _settle_shift(self, happened_ms: int) -> None:
        """Move on to a new shift where the recording pauses, or goes back to an earlier day."""
        if self._shift is None:
            self._shift = self._told_ms - happened_ms
        gap_ms = happened_ms + self._shift - self._told_ms
        if not 0 <= gap_ms <= BREAK_MS and not self._runs():
            self._shift += BREAK_MS - gap_ms

    def _happened(self, fact: Fact) -> int | None:
        if isinstance(fact, _TIMED):
            return fact.unix_ms
        if isinstance(fact, ASIDE):
            return max(fact.unix_ms, self._newest.get(fact.heat, 0) + fact.at_ms)
        zero = self._zeros.get(fact.start or "", self._newest.get(fact.heat))
        return None if zero is None else zero + fact.at_ms

    def _runs(self) -> bool:
        """Tell whether a heat that has started has work to come."""
        return any(self._to_come[heat] > 0 for heat in self._newest)

    def _is_work(self, fact: Fact) -> bool:
        return not isinstance(fact, ASIDE) and fact.at_ms <= self._busy.get(fact.heat, 0)
