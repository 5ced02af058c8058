"""What the call says of the end: the forecast of a lane, and what the heat does to the overall standing."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import isfinite

from tallywire.core.clinching.need import Need
from tallywire.core.clinching.prospects import Beat, Prospect, Stakes
from tallywire.core.forecast.answer import DRAWS, LaneForecast, Spread
from tallywire.core.model.competition import Competition
from tallywire.core.standings.change import Changes, OverallChange
from tallywire.core.views.heat import Frame
from tallywire.core.views.standings import overall_row

STANDING_ROWS = 10
"""So many of the overall standing are listed, and whoever is on the floor."""
PODIUM = 3
_STEP_MS = 100
UNDER, OVER = 0.005, 0.995
"""What stands for a chance that is not proved: under 1 %, over 99 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proved:
    """What is no forecast any more: the lane's own result, and those of its whole division in the heat. `overall` is
    the best and the worst place overall that is within reach, None where that is not worked out.

    Only of what is proved a chance may be 0 or 1.
    """

    result: bool
    places: bool
    overall: tuple[int, int] | None


def outlook_data(lane: LaneForecast, proved: Proved, *, elsewhere: bool = False) -> Frame:
    """Give a lane's forecast. Chances are shares of 1.

    While its division runs `elsewhere` in the event as well, nothing is said of what the event and the standing bring:
    a forecast looks at one heat.
    """
    decided = proved.result
    data: Frame = {"heat_places": _chances(lane.heat_places, proved=proved.places)}
    if not elsewhere:
        data |= _event_data(lane, proved)
    if lane.finish_ms is not None and not decided:
        data["finish_ms"] = _spread(lane.finish_ms, _STEP_MS)
    if lane.inside_cap is not None:
        data["inside_cap"] = _chance(lane.inside_cap, proved=decided)
    if lane.scored_reps is not None:
        data["reps"] = _spread(lane.scored_reps, 1)
    if not decided:
        data |= {name: _spread(found, _STEP_MS if name.endswith("_ms") else 1) for name, found in lane.own.items()}
    return data


def _event_data(lane: LaneForecast, proved: Proved) -> Frame:
    data: Frame = {
        "event_places": _chances(lane.event_places, proved=proved.places),
        "points": _spread(lane.points, 1),
    }
    if lane.overall_places:
        data["overall_places"] = _overall_chances(lane.overall_places, proved.overall)
    return data


def stakes_data(
    competition: Competition,
    prospect: Prospect,
    *,
    cut: int | None,
    lanes: Mapping[str, int],
    hidden: Collection[str],
) -> Frame:
    """Give what an entry needs.

    `lanes` are those on the floor, by entry; rivals on medical hold (`hidden`) are not named.
    """
    need = prospect.need
    data: Frame = {
        "alive": need.alive,
        "best": need.best,
        "worst": need.worst,
        "leading": list(need.leading),
        "clinching": list(need.clinching),
        "podium": _reach(need, PODIUM),
        "beat": [_beat(competition, each, lanes) for each in prospect.beats if each.rival not in hidden],
    }
    if cut is None or prospect.cut is None:
        return data
    return data | {"cut": _reach(prospect.cut, cut), "cut_to": cut}


def overall_data(competition: Competition, changes: Changes, stakes: Stakes, *, lanes: Mapping[str, int]) -> Frame:
    """Give the overall standing as it stands, with arrows; `lanes` are those on the floor, by entry.

    `not_worked_out` says why nothing is said of what is needed.
    """
    in_it = changes.still_in - changes.held
    shown = [each for each in changes.rows if each.now.entry in in_it]
    rows = [each for place, each in enumerate(shown) if place < STANDING_ROWS or each.now.entry in lanes]
    data: Frame = {"early": stakes.early, "rows": [_row(competition, each, lanes) for each in rows]}
    return data if stakes.unknown is None else data | {"not_worked_out": stakes.unknown}


def _row(competition: Competition, change: OverallChange, lanes: Mapping[str, int]) -> Frame:
    data = overall_row(competition, change)
    data["arrow"] = "up" if change.moved > 0 else "down" if change.moved < 0 else "level"
    entry = change.now.entry
    return data | ({"lane": lanes[entry]} if entry in lanes else {})


def _beat(competition: Competition, beat: Beat, lanes: Mapping[str, int]) -> Frame:
    data: Frame = {"entry": beat.rival, "short": competition.entries[beat.rival].short, "by": beat.places}
    data |= {"tie_may_break": True} if beat.tie_may_break else {}
    return data | ({"lane": lanes[beat.rival]} if beat.rival in lanes else {})


def _reach(need: Need, last: int) -> str:
    if need.safe_for(last):
        return "certain"
    return "possible" if need.can_reach(last) else "gone"


def _overall_chances(shares: Sequence[float], within: tuple[int, int] | None) -> list[float]:
    """The chances within what is proved. A draw beyond it counts as the nearest place within reach: proofs go by
    results that earn points, and by heats of the event that are still to come."""
    if within is None:
        return _chances(shares, proved=False)
    best, worst = within
    if best == 1 and worst >= len(shares):
        return _chances(shares, proved=worst == 1)
    kept = [0.0] * max(len(shares), worst)
    for place, share in enumerate(shares, start=1):
        kept[min(max(place, best), worst) - 1] += share
    return _chances(kept, proved=best == worst)


def _chances(shares: Sequence[float], *, proved: bool) -> list[float]:
    """Whole per cent, best place first, without the places at the end that would be rounded to none."""
    said = len(shares)
    while said and shares[said - 1] < UNDER:
        said -= 1
    return [_chance(share, proved=proved) for share in shares[:said]]


@lru_cache(maxsize=2 * DRAWS)
def _chance(share: float, *, proved: bool) -> float:
    """Whole per cent; without proof never 0 or 100, however many draws say so."""
    if proved or 0.01 <= share <= 0.99:
        return round(share, 2)
    return UNDER if share < 0.01 else OVER


def _spread(spread: Spread, step: int) -> Frame:
    """The median and the ends of the intervals; an end that may never come is left out."""
    named = {"median": spread.median}
    for level, (low, high) in spread.intervals.items():
        named |= {f"low_{level}": low, f"high_{level}": high}
    data: Frame = {name: step * round(value / step) for name, value in named.items() if isfinite(value)}
    return data if spread.holds is None else data | {"holds_80": _chance(spread.holds, proved=False)}
