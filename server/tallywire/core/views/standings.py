"""The standings view: the overall standing of a heat's divisions, before the event and as it stands."""

from __future__ import annotations

from collections.abc import Mapping

from tallywire.core.fold.result_status import weakest
from tallywire.core.model.competition import Competition, Event
from tallywire.core.ranking.points import plain
from tallywire.core.ranking.series import Series
from tallywire.core.standings.change import Changes, OverallChange, StandingSight
from tallywire.core.standings.overall import scored_parts
from tallywire.core.views.heat import Frame, heat_frame


def quick_standings_frame(competition: Competition, sight: StandingSight) -> Frame:
    """Give the view without its standings, for the moment until those are worked out."""
    stage = weakest([each.sight.stage for each in sight.changes.values()])
    return heat_frame(competition, sight.state) | {"view": "standings", "result": {"stage": stage.value}}


def standings_frame(competition: Competition, sight: StandingSight) -> Frame:
    """Give the heat view with each division's `standings`, and how official the least advanced of their results is.

    An entry under a medical hold is not in it; places are not closed up.
    """
    event = sight.state.event
    lanes = {lane.entry.id: lane.lane for lane in sight.state.lanes.values()}
    return quick_standings_frame(competition, sight) | {
        "standings": {
            division: {
                "raced": each.sight.raced,
                "heats": each.sight.heats,
                **_rows(competition, event, each, lanes),
            }
            for division, each in sight.changes.items()
        },
    }


def _rows(competition: Competition, event: Event, changes: Changes, lanes: Mapping[str, int]) -> Frame:
    after = changes.after
    raced = {entry for each in after.scores if each.event.split("/")[0] == event.id for entry in each.scores}
    best = _best(competition, changes.before)
    shown = [change for change in changes.rows if change.now.entry not in changes.held]
    rows = {
        entry: overall_row(competition, change)
        | {"home": competition.entries[entry].home, "raced": entry in raced}
        | best.get(entry, {})
        | ({"lane": lanes[entry]} if entry in lanes else {})
        for change in shown
        for entry in (change.now.entry,)
    }
    return {"order": [change.now.entry for change in shown], "rows": rows}


def overall_row(competition: Competition, change: OverallChange) -> Frame:
    """Give an entry overall, as it stands and before the event: the same in the standings and in the call."""
    entry, now, before = competition.entries[change.now.entry], change.now, change.before
    data: Frame = {
        "entry": entry.id,
        "name": entry.name,
        "short": entry.short,
        "place": now.place,
        "shared": now.shared,
        "total": plain(now.total),
    }
    if before is None:
        return data
    return data | {
        "gained": plain(change.gained),
        "before": {"place": before.place, "shared": before.shared, "total": plain(before.total)},
    }


def _best(competition: Competition, before: Series | None) -> dict[str, Frame]:
    """Each entry's best place in an event so far; of equal ones the latest."""
    if before is None:
        return {}
    names = {key: event.name for event, _, key in scored_parts(competition)}
    found: dict[str, Frame] = {}
    for scores in before.scores:
        for entry, score in scores.scores.items():
            best = found.get(entry)
            if score.has_result and (best is None or score.place <= best["best"]["place"]):
                found[entry] = {"best": {"place": score.place, "event": names[scores.event]}}
    return found
