"""A division's whole competition, event after event: cuts change the field, and points tables change with it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from tallywire.core.ranking.cuts import Cut, CutDecision, cut
from tallywire.core.ranking.places import event_places, field_with
from tallywire.core.ranking.points import Table, TiePolicy, award
from tallywire.core.ranking.standing import (
    Entrant,
    EventScores,
    Scored,
    StandingRow,
    StandingRules,
    no_result_points,
    standing,
)

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class EventPlan:
    """One event of the division; plans come in the order in which events are held. `cut` is made once the event is
    complete.

    `listed` are the entries on its lanes, empty while the lanes are not known. While a cut before the event is still to
    be made, points are for those of them who are still in. Count-back passes over an event that is not in it. Nobody is
    given a `vacant` place.
    """

    event: str
    table: Table
    ties: TiePolicy = TiePolicy.SHARE_BETTER
    cut: Cut | None = None
    listed: frozenset[str] = frozenset()
    in_count_back: bool = True
    vacant: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class EventResults:
    """What is known of an event: the sort key of everyone who has been on the floor, smaller is better.

    `no_result` are the entries without a result; `no_points` are placed but earn only what an entry without a result
    earns (they did less than the minimum work); `must_count` are those whose score is never dropped. The event is
    `complete` when nothing of it is open any more.
    """

    keys: Mapping[str, tuple[int, ...]]
    no_result: frozenset[str] = frozenset()
    no_points: frozenset[str] = frozenset()
    must_count: frozenset[str] = frozenset()
    complete: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """The division as it stands: the scores of every event, the cuts made, and the standing.

    `field` are the entries still in, in the order of the entrants.
    """

    scores: tuple[EventScores, ...]
    rows: tuple[StandingRow, ...]
    cuts: Mapping[str, tuple[CutDecision, ...]]
    field: tuple[str, ...]


@dataclass(slots=True)
class _Run:
    entrants: list[Entrant]
    rules: StandingRules
    scores: list[EventScores] = field(default_factory=list)
    cuts: dict[str, tuple[CutDecision, ...]] = field(default_factory=dict)

    @property
    def stage(self) -> int:
        return len(self.cuts)

    @property
    def in_field(self) -> list[str]:
        return [entrant.entry for entrant in self.entrants if entrant.survived == self.stage]


def run_series(  # noqa: PLR0913
    entrants: Sequence[Entrant],
    plans: Sequence[EventPlan],
    results: Mapping[str, EventResults],
    rules: StandingRules | None = None,
    *,
    withdrawn: Mapping[str, str] | None = None,
    onto: Series | None = None,
) -> Series:
    """Score the events that have results, make the cuts of the complete ones, and give the standing.

    After a cut only the survivors are placed, among themselves and by the size of their field; results of others in
    later events are not scored. `withdrawn` names, by entry, the event after which it left the competition: it keeps
    its points and place, and takes nobody's place in a cut from that event on.

    `onto` is the series of the same entrants up to some event, whose results and cuts stay as they are: only what
    follows is scored.

    A cut sees only the deductions given up to its event. `Entrant.survived` is worked out here, whatever value it came
    with. Raises ValueError for a deduction or a withdrawal at an event that is not planned.
    """
    _check(entrants, plans, withdrawn or {})
    run, to_make = _begun(entrants, rules or StandingRules(), onto), 0
    order, known = [plan.event for plan in plans], {scores.event for scores in run.scores}
    for plan in plans:
        pending, to_make = to_make > len(run.cuts), to_make + (plan.cut is not None)
        if plan.event not in results or plan.event in known:
            continue
        run.scores.append(_scored(run, plan, results[plan.event], pending=pending))
        if plan.cut and results[plan.event].complete:
            _make_cut(run, plan.event, plan.cut, done=order[: order.index(plan.event) + 1], withdrawn=withdrawn or {})
    rows = standing(run.entrants, run.scores, run.rules)
    return Series(scores=tuple(run.scores), rows=rows, cuts=run.cuts, field=tuple(run.in_field))


def _begun(entrants: Sequence[Entrant], rules: StandingRules, onto: Series | None) -> _Run:
    """Begin before the first event, or where a series has ended."""
    if onto is None:
        return _Run([replace(entrant, survived=0) for entrant in entrants], rules)
    survived = {row.entry: row.survived for row in onto.rows}
    members = [replace(entrant, survived=survived[entrant.entry]) for entrant in entrants]
    return _Run(members, rules, scores=list(onto.scores), cuts=dict(onto.cuts))


def from_event_on(changes: Mapping[str, T], events: Sequence[str], default: T) -> dict[str, T]:
    """Spread what changes at named events, such as points tables, over all events in their order.

    Each event gets what belongs to the latest named event up to it, and `default` before the first of them. Raises
    ValueError for a name that is not an event.
    """
    strangers = [name for name in changes if name not in events]
    if strangers:
        raise ValueError(f"found a change from {', '.join(strangers)} on, expected one of {', '.join(events)}")
    found: dict[str, T] = {}
    for event in events:
        default = found[event] = changes.get(event, default)
    return found


def _check(entrants: Sequence[Entrant], plans: Sequence[EventPlan], withdrawn: Mapping[str, str]) -> None:
    planned = {plan.event for plan in plans}
    named = {each.event for entrant in entrants for each in entrant.deductions if each.event} | {*withdrawn.values()}
    if not named <= planned:
        raise ValueError(
            f"found event {', '.join(sorted(named - planned))}, expected one of {', '.join(sorted(planned))}"
        )


def expected(field: Collection[str], listed: Collection[str]) -> frozenset[str]:
    """Give the entries an event is for while a cut before it is open: those on its lanes who are still in."""
    return frozenset(field) & frozenset(listed) if listed else frozenset(field)


def _scored(run: _Run, plan: EventPlan, results: EventResults, *, pending: bool) -> EventScores:
    entries = [entry for entry in run.in_field if entry in results.keys or entry in results.no_result]
    lost = [entry for entry in entries if entry in results.no_result]
    keys = {entry: results.keys[entry] for entry in entries if entry not in results.no_result}
    placed = event_places([keys], no_result=lost, vacant=plan.vacant)
    size = len(expected(run.in_field, plan.listed) if pending else run.in_field)
    size = field_with(size, ranked=len(keys), vacant=plan.vacant)
    unpaid = [entry for entry in entries if entry in results.no_result | results.no_points]
    nothing = dict.fromkeys(unpaid, no_result_points(run.rules.order, size))
    points = award(placed, plan.table, ties=plan.ties, field=size, no_result=nothing, vacant=plan.vacant)
    scores = {
        entry: Scored(
            place=placed[entry],
            points=points[entry],
            has_result=entry not in results.no_result,
            must_count=entry in results.must_count,
            in_count_back=plan.in_count_back,
        )
        for entry in entries
    }
    return EventScores(event=plan.event, scores=scores, stage=run.stage)


def _make_cut(run: _Run, event: str, rule: Cut, *, done: Collection[str], withdrawn: Mapping[str, str]) -> None:
    out = {entry for entry, last in withdrawn.items() if last in done}
    known = [
        replace(each, deductions=tuple(d for d in each.deductions if d.event in ("", *done))) for each in run.entrants
    ]
    still_in = set(run.in_field)
    rows = [row for row in standing(known, run.scores, run.rules) if row.entry in still_in]
    run.cuts[event] = cut(rows, rule, unavailable=out)
    on = {decision.entry for decision in run.cuts[event] if decision.goes_on}
    run.entrants = [replace(each, survived=each.survived + 1) if each.entry in on else each for each in run.entrants]
