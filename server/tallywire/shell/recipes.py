"""How the two background views are made: the call and the standings of a heat."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Generic, TypeVar

from tallywire.core.call.steps import Sight, listen, look_ahead, make_call, see, wants_outlook
from tallywire.core.cues import CueDesk, Wording
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.forecast.predict import Forecast
from tallywire.core.model.competition import Competition
from tallywire.core.standings.change import StandingSight, sight_of
from tallywire.core.views.standings import standings_frame
from tallywire.shell.books import Books
from tallywire.shell.forecast_log import ForecastLog
from tallywire.shell.worked_out import CALL, STANDINGS

Frame = dict[str, Any]
S = TypeVar("S")
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The desk after it has listened, and the frame if one was wanted."""

    desk: CueDesk
    frame: Frame | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe(Generic[S]):
    """One background view.

    `see` reads a snapshot, at once. `work_out` makes an answer from what was seen, in the worker; its True asks for a
    frame. `concerned` gives the heats whose view may change when these heats change. With `listens`, a heat that runs
    is looked at every second, watched or not.
    """

    view: str
    see: Callable[[Snapshot, HeatSnapshot], S]
    work_out: Callable[[S, CueDesk, bool], Answer]
    concerned: Callable[[Snapshot, set[str]], set[str]]
    listens: bool = False


def call_recipe(books: Books, wording: Wording, log: ForecastLog | None = None) -> Recipe[Sight]:
    """The call: its cue desk listens all the time, so that a late joiner gets the cues that are still alive.

    `log` keeps a forecast every minute, watched or not.
    """
    return Recipe(
        view=CALL,
        see=see,
        work_out=partial(_call, books.competition, wording, log),
        concerned=partial(_calls_concerned, books),
        listens=True,
    )


def standings_recipe(competition: Competition) -> Recipe[StandingSight]:
    """The standings."""
    return Recipe(
        view=STANDINGS,
        see=sight_of,
        work_out=partial(_standings, competition),
        concerned=partial(_standings_concerned, _up_to(competition)),
    )


def _call(  # noqa: PLR0913, PLR0917
    competition: Competition, wording: Wording, log: ForecastLog | None, sight: Sight, desk: CueDesk, wanted: bool
) -> Answer:
    kept = log is not None and log.wants(sight)
    outlook = _outlook(competition, sight) if wanted or kept or wants_outlook(sight, desk) else None
    if log is not None and outlook is not None:
        log.keep(sight, outlook)
    listened = listen(competition, desk, sight, outlook)
    frame = make_call(competition, sight, outlook, desk=listened, wording=wording) if wanted else None
    return Answer(desk=listened, frame=frame)


def _outlook(competition: Competition, sight: Sight) -> Forecast | None:
    """Give the forecast; None where it fails as well, because a call without a forecast is worth more than none."""
    try:
        return look_ahead(competition, sight)
    except Exception:
        # At the edge of the forecast: whatever is wrong in it, what is counted and what is needed stay on the page.
        _log.exception("the call of heat %s goes on without a forecast", sight.state.heat.id)
        return None


def _standings(competition: Competition, sight: StandingSight, desk: CueDesk, _wanted: bool) -> Answer:
    return Answer(desk=desk, frame=standings_frame(competition, sight))


def _calls_concerned(books: Books, snapshot: Snapshot, heats: set[str]) -> set[str]:
    """The heats whose call may change: all of the event if a heat is over, or was corrected after its end.

    With several floors always: the call of a heat that is over may be watched while another one of the event runs.
    """
    several = bool(books.competition.floors)
    return heats | books.concerned(heat for heat in heats if several or snapshot.heats[heat].over)


def _standings_concerned(rest_on: Mapping[str, frozenset[str]], _snapshot: Snapshot, heats: set[str]) -> set[str]:
    return {each for heat in heats for each in rest_on[heat]}


def _up_to(competition: Competition) -> dict[str, frozenset[str]]:
    """The heats whose standings rest on a heat, by its id: those of its event and of every one after it."""
    turn = {event: n for n, event in enumerate(competition.events)}
    heats = competition.heats.values()
    return {heat.id: frozenset(each.id for each in heats if turn[each.event] >= turn[heat.event]) for heat in heats}
