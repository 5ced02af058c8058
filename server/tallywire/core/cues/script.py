"""All cues of a recorded heat, as the desk would have given them live."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from tallywire.core.competition import Competition
from tallywire.core.cues.cue import Cue, CueRules
from tallywire.core.cues.desk import CueDesk, cues
from tallywire.core.cues.observation import Observation
from tallywire.core.cues.overall import overall_notes
from tallywire.core.facts import Fact
from tallywire.core.fold import HeatBook, HeatState
from tallywire.core.needed import Contender

STEP_MS = 1_000
AFTER_MS = 60_000
"""How long after the last fact the desk still speaks: what had to wait for room."""


def cue_script(  # noqa: PLR0913
    competition: Competition,
    heat_id: str,
    facts: Iterable[Fact],
    *,
    rules: CueRules | None = None,
    step_ms: int = STEP_MS,
    others: Sequence[HeatState] = (),
    before: Mapping[str, Contender] | None = None,
) -> list[tuple[int, Cue]]:
    """Give every cue with the heat clock at which it came up, looking at the heat once a step.

    Facts of other heats are passed over; each becomes known at its own `at_ms`. Deterministic.
    """
    desk = CueDesk(rules=rules or CueRules())
    script: list[tuple[int, Cue]] = []
    for state in _states(competition, heat_id, facts, step_ms):
        desk = cues(desk, observed(competition, state, others=others, before=before))
        script += [(state.clock_ms, cue) for cue in desk.fresh]
    return script


def observed(
    competition: Competition,
    state: HeatState,
    *,
    others: Sequence[HeatState] = (),
    before: Mapping[str, Contender] | None = None,
    expected_ms: Mapping[int, int] | None = None,
) -> Observation:
    """Make an observation of a state: with its overall notes and, where there is a forecast, its finish times."""
    return Observation(
        state=state,
        overall=overall_notes(competition, state, others=others, before=before),
        expected_ms=expected_ms or {},
        names={entry.id: entry.short for entry in competition.entries.values()},
        divisions={division.id: division.name for division in competition.divisions.values()},
    )


def _states(competition: Competition, heat_id: str, facts: Iterable[Fact], step_ms: int) -> Iterator[HeatState]:
    book = HeatBook(competition, competition.heats[heat_id])
    coming = sorted((fact for fact in facts if fact.heat == heat_id), key=lambda fact: fact.order, reverse=True)
    last_ms = coming[0].at_ms + AFTER_MS if coming else 0
    for clock_ms in range(step_ms, last_ms + 1, step_ms):
        while coming and coming[-1].at_ms <= clock_ms:
            book.add(coming.pop())
        yield book.state(clock_ms)
