"""The overall standing as cues see it: who leads as it stands, and who has clinched, from a heat in progress."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from tallywire.core.clinching.before import Before
from tallywire.core.clinching.event_race import PartRows
from tallywire.core.clinching.race import NotWorkedOut
from tallywire.core.clinching.stakes import clinched, says_something
from tallywire.core.cues.observation import OverallNote
from tallywire.core.fold.heat import HeatState
from tallywire.core.model.competition import Competition
from tallywire.core.ranking.points import plain
from tallywire.core.ranking.standing import StandingRow
from tallywire.core.standings.change import Changes


def overall_notes(
    competition: Competition,
    state: HeatState,
    *,
    before: Mapping[str, Before],
    rows: Mapping[str, PartRows],
    changes: Mapping[str, Changes],
) -> tuple[OverallNote, ...]:
    """Give a note for each division on the floor. `before`, `rows` (the event's tables) and `changes` go by division.

    Until the leader has done half the work, or half the time is gone, live places say little, so the standing before
    the event is used. Where there is no exact answer, nobody is said to have clinched.
    """
    live = says_something(state)
    return tuple(
        _note(
            division,
            _standing(changes[division], {each.entry for each in before[division].contenders}, live=live),
            _clinched(competition, state, before[division], rows[division]),
        )
        for division in dict.fromkeys(lane.entry.division for lane in state.lanes.values())
        if before[division].contenders
    )


def _standing(changes: Changes, still_in: Collection[str], *, live: bool) -> list[StandingRow]:
    """Those still in, best first: as it stands, or before the event; nobody where there was nothing before."""
    series = changes.after if live else changes.before
    return [] if series is None else [row for row in series.rows if row.entry in still_in]


def _clinched(competition: Competition, state: HeatState, before: Before, rows: PartRows) -> str | None:
    try:
        return clinched(competition, state, before, rows)
    except NotWorkedOut:
        return None


def _note(division: str, standing: Sequence[StandingRow], clinched: str | None) -> OverallNote:
    first, second = (*standing[:2], None, None)[:2]
    alone = first is not None and not first.shared
    if not alone and second is not None and second.entry == clinched:
        first, second = second, first
    return OverallNote(
        division=division,
        leader=first.entry if alone and first is not None else None,
        second=None if second is None else second.entry,
        points=0 if first is None or second is None else plain(abs(first.total - second.total)),
        clinched=clinched,
    )
