"""The overall standing as cues see it: who leads as it stands, and who has clinched, from a heat in progress."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tallywire.core.clinching import NotWorkedOut, Swing
from tallywire.core.clinching.before import Before
from tallywire.core.clinching.event_race import PartRows, standing_swings
from tallywire.core.clinching.stakes import clinched, says_something
from tallywire.core.cues.observation import OverallNote
from tallywire.core.fold.heat import HeatState
from tallywire.core.model.competition import Competition
from tallywire.core.ranking.points import plain


def overall_notes(
    competition: Competition, state: HeatState, *, before: Mapping[str, Before], rows: Mapping[str, PartRows]
) -> tuple[OverallNote, ...]:
    """Give a note for each division on the floor. `before` and `rows` (the event's tables) go by division.

    Until the leader has done half the work, or half the time is gone, live places say little, so the standing before
    the event is used. Where there is no exact answer, nobody is said to have clinched.
    """
    live = says_something(state)
    return tuple(
        _note(
            division,
            standing_swings(competition, state.event, before[division], rows[division] if live else ()),
            _clinched(competition, state, before[division], rows[division]),
        )
        for division in dict.fromkeys(lane.entry.division for lane in state.lanes.values())
        if before[division].contenders
    )


def _clinched(competition: Competition, state: HeatState, before: Before, rows: PartRows) -> str | None:
    try:
        return clinched(competition, state, before, rows)
    except NotWorkedOut:
        return None


def _note(division: str, standing: Sequence[Swing], clinched: str | None) -> OverallNote:
    first, second = standing[0], standing[1] if len(standing) > 1 else None
    alone = second is None or second.place_after > 1
    if not alone and second is not None and second.entry == clinched:
        first, second = second, first
    return OverallNote(
        division=division,
        leader=first.entry if alone else None,
        second=None if second is None else second.entry,
        points=0 if second is None else plain(abs(first.points_after - second.points_after)),
        clinched=clinched,
    )
