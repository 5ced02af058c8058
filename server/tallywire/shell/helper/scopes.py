"""Which heats' background views a change may move."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.model.competition import Competition
from tallywire.shell.books import Books
from tallywire.shell.worked_out import CALL, STANDINGS


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """One background view. `concerned` gives the heats whose view may change when these heats change.

    With `listens`, a heat that runs is looked at every second, watched or not.
    """

    view: str
    concerned: Callable[[Snapshot, set[str]], set[str]]
    listens: bool = False


def call_scope(books: Books) -> Scope:
    """The call: its cue desk listens all the time, so that a late joiner gets the cues that are still alive."""
    return Scope(view=CALL, concerned=partial(_calls_concerned, books), listens=True)


def standings_scope(competition: Competition) -> Scope:
    """The standings."""
    return Scope(view=STANDINGS, concerned=partial(_standings_concerned, _up_to(competition)))


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
