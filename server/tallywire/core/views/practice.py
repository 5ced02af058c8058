"""What the practice page is given: a lane as its pad sees it before the start, and what its athlete will do there.

It is made up, and of no athlete: the lane has no name.
"""

from __future__ import annotations

from collections.abc import Iterator

from tallywire.core.facts import wire_name
from tallywire.core.fold.heat_book import HeatBook
from tallywire.core.made_up.heat import MadeUp, true_work
from tallywire.core.model.competition import Competition, Heat
from tallywire.core.views.heat import Frame, heat_frame
from tallywire.core.views.own_rules import work_data


def practice_data(made: MadeUp, heat: Heat, lane: int) -> Frame:
    """Give the heats that one can practise on, the frame of a lane, and the true work on it in the order of time."""
    heats = [_heat(made.competition, each) for each in made.competition.heats.values() if each.lanes]
    return {"heats": heats, "frame": _frame(made.competition, heat, lane), "truth": list(_truth(made, heat, lane))}


def _heat(competition: Competition, heat: Heat) -> Frame:
    return {"id": heat.id, "name": heat.name, "event": competition.event_of(heat).name, "lanes": list(heat.lanes)}


def _frame(competition: Competition, heat: Heat, lane: int) -> Frame:
    state = HeatBook(competition, heat).at(0).state
    frame = heat_frame(competition, state)
    own = frame["lanes"][str(lane)] | work_data(state.lanes[lane].tally, state.event.workout)
    nobody = {"entry": "", "name": "", "short": "", "home": ""}
    return frame | {"view": "table", "order": [lane], "lanes": {str(lane): own | nobody}, "open": True}


def _truth(made: MadeUp, heat: Heat, lane: int) -> Iterator[Frame]:
    """Say what happens as the facts of a perfect judge, in time and no longer than the heat."""
    until_ms = made.competition.event_of(heat).workout.time_cap_ms
    work = sorted(true_work(made, heat, lane), key=lambda draft: draft[1])
    return (
        {"fact": wire_name(kind), "at_ms": round(at_ms), **fields} for kind, at_ms, fields in work if at_ms <= until_ms
    )
