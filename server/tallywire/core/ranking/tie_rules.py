"""Tie rules: what decides between entries with equal overall points.

Each rule turns an entry's events into a key where smaller is better; keys are compared rule by rule.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

_NONE = 2**62
"""Stands for the place an entry does not have: it is worse than any."""

Key = tuple[int | Fraction, ...]


class Order(StrEnum):
    """Which total wins: the most points, or the fewest (places added up, low-point scoring)."""

    MOST = "most"
    FEWEST = "fewest"

    @property
    def sign(self) -> int:
        """Turns points into a key where smaller is better."""
        return -1 if self is Order.MOST else 1


class TieRule(StrEnum):
    """A rule between entries with equal overall points.

    COUNT_BACK: more first places, then more seconds, and so on, over the events that count (not the dropped ones) and
        over places with a result only. Motor sport's sporting regulations, art. 7.2, for a season without drops.
    COUNT_BACK_ALL: the same over all events, dropped ones too.
    COUNT_BACK_SCORING: as COUNT_BACK, over places that earned points only. Common practice, no source.
    BEST_SCORES: the points of the events that count, compared from each entry's best to its worst (Racing Rules of
        Sailing, A8.1).
    LAST_EVENT: the better place in the last event, dropped or not; those without one come last. Common practice, no
        source.
    LATEST_EVENTS: the better points in the last event, then in the one before, and so on, dropped or not (Racing Rules
        of Sailing, A8.2).
    SHARED: nothing more is compared, the place is shared. It ends every list of rules, written or not.
    """

    COUNT_BACK = "count_back"
    COUNT_BACK_ALL = "count_back_all"
    COUNT_BACK_SCORING = "count_back_scoring"
    BEST_SCORES = "best_scores"
    LAST_EVENT = "last_event"
    LATEST_EVENTS = "latest_events"
    SHARED = "shared"


@dataclass(frozen=True, slots=True, kw_only=True)
class EventCell:
    """One event in an entry's line of the standing.

    `place` is None for an entry that has no score there yet; its points are then those of an entry without a result.
    `dropped` events are not in the total; one that is not `in_count_back` is passed over by every count-back.
    """

    event: str
    place: int | None
    points: Fraction
    has_result: bool
    dropped: bool = False
    in_count_back: bool = True


def tie_key(rule: TieRule, cells: Sequence[EventCell], order: Order) -> Key:
    """Give an entry's key under a rule. `cells` are its events in their order; smaller keys stand better."""
    return _KEYS[rule](cells, order)


def _count_back_all(cells: Sequence[EventCell], _order: Order) -> Key:
    """The places from the best on, and behind them none: in order they compare firsts, then seconds, and so on."""
    places = sorted(cell.place for cell in cells if cell.place is not None and cell.has_result and cell.in_count_back)
    return (*places, _NONE)


def _count_back(cells: Sequence[EventCell], order: Order) -> Key:
    return _count_back_all([cell for cell in cells if not cell.dropped], order)


def _count_back_scoring(cells: Sequence[EventCell], order: Order) -> Key:
    return _count_back([cell for cell in cells if cell.points], order)


def _best_scores(cells: Sequence[EventCell], order: Order) -> Key:
    return tuple(sorted(order.sign * cell.points for cell in cells if not cell.dropped))


def _last_event(cells: Sequence[EventCell], _order: Order) -> Key:
    last = cells[-1].place if cells else None
    return (_NONE if last is None else last,)


def _latest_events(cells: Sequence[EventCell], order: Order) -> Key:
    return tuple(order.sign * cell.points for cell in reversed(cells))


def _shared(_cells: Sequence[EventCell], _order: Order) -> Key:
    return ()


_KEYS: dict[TieRule, Callable[[Sequence[EventCell], Order], Key]] = {
    TieRule.COUNT_BACK: _count_back,
    TieRule.COUNT_BACK_ALL: _count_back_all,
    TieRule.COUNT_BACK_SCORING: _count_back_scoring,
    TieRule.BEST_SCORES: _best_scores,
    TieRule.LAST_EVENT: _last_event,
    TieRule.LATEST_EVENTS: _latest_events,
    TieRule.SHARED: _shared,
}
