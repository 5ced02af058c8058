"""From an event in progress to what a forecast is asked: the heat on the floor, the other heats, what came before."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from math import isfinite, prod
from typing import Any

import numpy as np

from tallywire.core.clinching.race import NotWorkedOut
from tallywire.core.clinching.race import Race as NeededRace
from tallywire.core.clinching.worth import Worth, added_up, levels_and_cells
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.forecast.answer import Forecast
from tallywire.core.forecast.ends import learn_from
from tallywire.core.forecast.format_forecast import model_of
from tallywire.core.forecast.legs import legs_of
from tallywire.core.forecast.model import History, Taught, believe, carry
from tallywire.core.forecast.of_heat import scene_of
from tallywire.core.forecast.predict import forecast
from tallywire.core.forecast.reading import read
from tallywire.core.forecast.scene import Overall, PartLevels, Result, Scene, parts_of
from tallywire.core.formats.registry import format_of
from tallywire.core.model.competition import Competition, Event, Heat, Measure
from tallywire.core.ranking.points import TiePolicy

SEED = 1
"""One seed for all forecasts, so that the same facts always give the same numbers."""
MOST_ENDS = 100_000
"""So many standings after several scores are worked out, which takes about a tenth of a second once."""


def event_scene(  # noqa: PLR0913
    competition: Competition,
    state: HeatState,
    *,
    others: Sequence[HeatState],
    overall: Mapping[str, Overall],
    learned: Taught | None,
    history: Mapping[str, History] | None = None,
) -> Scene:
    """Ask about a heat within its event. `others` are the event's heats that are over, `learned` their `lesson`,
    `history` what earlier events say of the entries (`past.histories`).

    `overall` says by division what places make of the overall standing; empty where that is not worked out.
    """
    heats = [heat for heat in competition.heats.values() if heat.event == state.event.id]
    handed_on = _handed_on(state)
    is_known = overall.keys() >= {lane.entry.division for lane in state.lanes.values()}
    return replace(
        scene_of(state, worth=[] if is_known else _place_points(competition, state.event, heats), history=history),
        parts=parts_of(state),
        others=_kept_results(competition, state, heats, tuple(others), handed_on),
        overall=overall,
        learned=learned,
        least=state.event.workout.minimum_reps,
        vacant=state.event.scored_parts()[0].vacant,
        handed_on=handed_on,
    )


def _handed_on(state: HeatState) -> dict[str, Any]:
    """What the forecasts of a heat that runs hand on to one another; a heat that is over keeps nothing of it."""
    if not state.over:
        begun: dict[str, Any] = state.handed_on.setdefault("forecast", {})
        return begun
    state.handed_on.pop("forecast", None)
    return {}


def _place_points(competition: Competition, event: Event, heats: Sequence[Heat]) -> list[float]:
    """What the places are worth, for the largest division on the event's lanes."""
    fields = [competition.entries[entry].division for heat in heats for entry in heat.lanes.values()]
    size = max((fields.count(division) for division in set(fields)), default=0)
    table = competition.points.get(event.points)
    return [] if table is None else [float(table.points(place, size)) for place in range(1, size + 1)]


def _kept_results(
    competition: Competition,
    state: HeatState,
    heats: Sequence[Heat],
    others: tuple[HeatState, ...],
    kept: dict[str, Any],
) -> Sequence[Result]:
    """The results of the other heats, kept for as long as these are the same objects: no fact has changed them."""
    begun: tuple[Competition | None, Sequence[HeatState], Sequence[Result]] = kept.get("others", (None, (), ()))
    if begun[0] is competition and begun[1] is others:
        return begun[2]
    found = _other_results(competition, state, heats, others)
    kept["others"] = (competition, others, found)
    return found


def _other_results(
    competition: Competition, state: HeatState, heats: Sequence[Heat], others: Sequence[HeatState]
) -> list[Result]:
    """The results of everyone on the lanes of the event's other heats."""
    raced = {lane.entry.id: lane for each in others for lane in each.lanes.values()}
    return [
        _result(state, competition.entries[entry].division, entry, raced.get(entry))
        for heat in heats
        if heat.id != state.heat.id
        for entry in heat.lanes.values()
    ]


def is_modelled(event: Event) -> bool:
    """Tell whether the forecast knows the format, and the event's scores: of some only the whole result."""
    model = model_of(event.workout)
    return model.has_model and (model.has_parts or all(part.measure is Measure.RESULT for part in event.parts))


def looks_at_cap(state: HeatState) -> bool:
    """Tell whether cues look at finish times now: in the second half of a heat with a cap to beat that runs."""
    if not model_of(state.event.workout).tells_finishes or state.started is None or state.over:
        return False
    return 2 * state.clock_ms >= state.event.workout.time_cap_ms


def expected_finishes(
    competition: Competition, state: HeatState, *, others: Sequence[HeatState], learned: Taught | None
) -> dict[int, int]:
    """Give the median of each lane's forecast finish, by lane; without those who more likely than not go no further."""
    scene = event_scene(competition, state, others=others, overall={}, learned=learned)
    return finishes(forecast(scene, seed=SEED))


def finishes(found: Forecast) -> dict[int, int]:
    """Give the median finish of each lane that has one."""
    medians = {number: each.finish_ms.median for number, each in found.lanes.items() if each.finish_ms is not None}
    return {number: round(median) for number, median in medians.items() if isfinite(median)}


@lru_cache(maxsize=16)
def overall_of(*races: NeededRace) -> Overall:
    """Turn what results are worth into a table for draws: of one score, or of several at once.

    Raises NotWorkedOut where there is no answer, as with a vacant place; of several scores also with drops, a least of
    work, or so many entries and shares that the table would hold more than `MOST_ENDS` standings.
    """
    if any(race.vacant for race in races):
        raise NotWorkedOut("vacant_place", "found a place that nobody is given, expected every place to be given")
    if len(races) == 1:
        worth = Worth(races[0])
        after, out = worth.after, worth.out
    else:
        after, out = _together(races)
    ends = {each for own in after.values() for each in own} | {*out.values()}
    rank = {each: n for n, each in enumerate(sorted(ends, reverse=True))}
    small = np.int16 if len(rank) < 2**15 else np.int32
    return Overall(
        parts=tuple(_part_levels(race) for race in races),
        after={entry: np.array([rank[each] for each in own], small) for entry, own in after.items()},
        out={entry: rank[each] for entry, each in out.items()},
        mean=races[0].ties is TiePolicy.MEAN,
    )


def points_of(*races: NeededRace) -> Overall:
    """Give what results earn, where what they make of the standing is not worked out."""
    return Overall(
        parts=tuple(_part_levels(race) for race in races),
        after={},
        out={each.entry: 0 for each in races[0].contenders},
        mean=races[0].ties is TiePolicy.MEAN,
    )


def _together(races: Sequence[NeededRace]) -> tuple[dict[str, list[int]], dict[str, int]]:
    levels = prod(len(levels_and_cells(race)[0]) for race in races)
    entries = len(races[0].contenders)
    if races[0].rules.drop_worst or any(race.unpaid for race in races) or levels * entries > MOST_ENDS:
        found = f"{levels * entries} standings after {len(races)} scores"
        raise NotWorkedOut("several_scores", f"found {found}, expected at most {MOST_ENDS}, and no drops")
    return added_up(races)


def _part_levels(race: NeededRace) -> PartLevels:
    levels, by_place = levels_and_cells(race)
    size = race.ranked + len(race.out) + 2
    level = np.zeros((size, size), dtype=np.int16)
    for place, cells in enumerate(by_place):
        level[place, 1 : len(cells)] = cells[1:]
    points = np.array([float(each.points) for each in levels], dtype=np.float32)
    return PartLevels(level=level, points=points, nothing=float(race.nothing))


def lesson(others: Sequence[HeatState]) -> Taught | None:
    """Give what the heats of an event that are over teach about its workout; None without any."""
    counted = (state for state in others if format_of(state.event.workout).counting.one_count and state.lanes)
    return taught_by(scene_of(state) for state in counted)


def taught_by(scenes: Iterable[Scene]) -> Taught | None:
    """Give what heats of one workout teach, one after the other; None without any."""
    taught: Taught | None = None
    for scene in scenes:
        legs = legs_of(scene.plan)
        reading = read(legs, [runner.trail for runner in scene.runners], start_ms=scene.start_ms)
        before = taught or believe(legs, scene.prior)
        taught = carry(learn_from(replace(scene, learned=before), legs, reading), before)
    return taught


def _result(state: HeatState, division: str, entry: str, lane: LaneState | None) -> Result:
    if lane is None or not lane.status.has_result:
        return Result(entry=entry, division=division)
    return replace(model_of(state.event.workout).result(state, lane), entry=entry, division=division)
