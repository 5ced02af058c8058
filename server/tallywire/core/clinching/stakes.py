"""What a heat means for the overall standing: how each entry moves as it stands, and what each needs.

The answers behind it (`answers.py`) are exact or not given: `Stakes.unknown` says why. They are asked for again only
when a result comes in, because they take longer than a frame may. A finish is settled once the judge has called it or
the heat is over; until then a call may move the time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from tallywire.core.clinching.answers import leads_for_certain, margin, needs
from tallywire.core.clinching.before import Before
from tallywire.core.clinching.event_race import PartRows, open_scores, standing_swings
from tallywire.core.clinching.need import Need
from tallywire.core.clinching.prospects import Beat, Prospect, Stakes
from tallywire.core.clinching.race import NO_PLACE, NotWorkedOut, Race
from tallywire.core.clinching.swings import event_swings
from tallywire.core.fold.heat import HeatState
from tallywire.core.formats.base import Status
from tallywire.core.model.competition import Competition
from tallywire.core.ranking.cuts import Cut, CutTies
from tallywire.core.ranking.points import TiePolicy
from tallywire.core.ranking.tie_rules import Order

RIVALS = 2
"""Against how many of those who were best before the event an entry is measured."""
known_needs = lru_cache(maxsize=64)(needs)
_certain = lru_cache(maxsize=64)(leads_for_certain)


def heat_stakes(
    competition: Competition,
    state: HeatState,
    *,
    before: Mapping[str, Before],
    rows: Mapping[str, PartRows],
) -> dict[str, Stakes]:
    """Give the stakes of each division on the floor. `before` and `rows` go by division.

    A division that a cut has left empty has no stakes: its lanes race as guests.
    """
    divisions = dict.fromkeys(lane.entry.division for lane in state.lanes.values())
    return {each: _stakes(competition, state, each, before[each], rows[each]) for each in divisions}


def _stakes(competition: Competition, state: HeatState, division: str, before: Before, rows: PartRows) -> Stakes:
    early = not says_something(state)
    if not before.contenders:
        return Stakes(swings=(), early=early)
    swings = tuple(standing_swings(competition, state.event, before, rows))
    floor = tuple(lane.entry.id for lane in state.lanes.values() if lane.entry.division == division)
    try:
        races = open_scores(competition, state, before, rows)
        cut = competition.cut_after(state.event.id, division)
        prospects = _prospects(races, floor, cut, before.gone | before.leaving)
        scores = max(1, sum(bool(race.open) for race in races))
        sure = clinched(competition, state, before, rows)
        return Stakes(swings=swings, early=early, scores=scores, prospects=prospects, clinched=sure)
    except NotWorkedOut as reason:
        return Stakes(swings=swings, early=early, unknown=reason.code)


def says_something(state: HeatState) -> bool:
    """Tell whether half the work is done or half the time is gone; before that, live places say little."""
    total = state.plan.total_done
    most = max((lane.tally.done for lane in state.lanes.values()), default=0)
    return 2 * state.clock_ms >= state.event.workout.time_cap_ms or (total is not None and 2 * most >= total)


def clinched(competition: Competition, state: HeatState, before: Before, rows: PartRows) -> str | None:
    """Name who leads overall after the event whatever happens now: on any place it can have, and without a result.

    Nobody has clinched where having no result may be worth more than the last place, because a rival may then gain by
    withdrawing. Raises NotWorkedOut.
    """
    races = open_scores(competition, state, before, rows)
    if any(_nothing_helps(race) for race in races):
        return None
    home = {lane.entry.id for lane in state.lanes.values() if lane.status is Status.FINISHED}
    may_stop = {entry for race in races for entry in race.open} - home
    for entry in _certain(*races):
        if entry not in may_stop or entry in _certain(*open_scores(competition, state, before, rows, without=entry)):
            return entry
    return None


def _nothing_helps(race: Race) -> bool:
    worths, nothing = race.worths(), race.nothing
    if not worths:
        return False
    return nothing > min(worths) if race.rules.order is Order.MOST else nothing < max(worths)


@lru_cache(maxsize=32)
def _prospects(
    races: tuple[Race, ...], entries: tuple[str, ...], cut: Cut | None, gone: frozenset[str]
) -> dict[str, Prospect]:
    found, ahead_of_cut = known_needs(*races), _cut_needs(races, cut, gone)
    best = [swing.entry for swing in event_swings(races[0], [])]
    prospects = {}
    for entry in (each for each in entries if each in found):
        rivals = [each for each in best if each != entry and each not in races[0].out][:RIVALS]
        beats = () if len(races) > 1 or entry in races[0].out else _beats(races[0], entry, rivals)
        prospects[entry] = Prospect(need=found[entry], beats=beats, cut=ahead_of_cut.get(entry))
    return prospects


def _cut_needs(races: tuple[Race, ...], cut: Cut | None, gone: frozenset[str]) -> Mapping[str, Need]:
    """The places for a cut: those who have left take nobody's place, and tie rules count only if the cut uses them.

    Where nobody of those level across the line goes on, an entry that is level counts as ahead.
    """
    if cut is None:
        return {}
    left = tuple(each.entry for each in races[0].contenders if each.entry in gone)
    asked = [replace(race, uncounted=left) for race in races]
    if cut.ties is not CutTies.BY_TIE_RULES:
        by_points = replace(races[0].rules, ties=())
        asked = [replace(race, rules=by_points, level_is_ahead=cut.ties is CutTies.NONE) for race in asked]
    return {name: _never(need) if name in gone else need for name, need in known_needs(*asked).items()}


def _never(need: Need) -> Need:
    return replace(need, best=NO_PLACE, worst=NO_PLACE)


def _beats(race: Race, entry: str, rivals: Sequence[str]) -> tuple[Beat, ...]:
    margins = {rival: margin(race, entry, rival) for rival in rivals}
    shares = race.ties is TiePolicy.MEAN
    return tuple(
        Beat(rival=rival, places=places, tie_may_break=shares)
        for rival, places in margins.items()
        if places is not None
    )
