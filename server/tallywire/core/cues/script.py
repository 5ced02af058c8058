"""All cues of a recorded heat, as the desk would have given them live."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import partial

from tallywire.core.clinching.before import Before, division_before
from tallywire.core.clinching.stakes import PartRows
from tallywire.core.cues.cue import Cue, CueRules
from tallywire.core.cues.desk import CueDesk, cues
from tallywire.core.cues.observation import Observation
from tallywire.core.cues.overall import overall_notes
from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.heat import HeatBook, HeatState
from tallywire.core.forecast.of_event import SEED, expected_finishes, lesson, looks_at_cap
from tallywire.core.model.competition import Competition
from tallywire.core.standings.in_event import event_rows

STEP_MS = 1_000
FORECAST_MS = 5_000
"""So often the forecast is asked for cues."""
AFTER_MS = 60_000
"""How long after the last fact the desk still speaks: what had to wait for room."""

LATER_MS = 24 * 60 * 60 * 1000
"""The clock of the other heats: they are over."""


def cue_script(  # noqa: PLR0913
    competition: Competition,
    heat_id: str,
    facts: Iterable[Fact],
    *,
    rules: CueRules | None = None,
    step_ms: int = STEP_MS,
    earlier: Iterable[Fact] = (),
) -> list[tuple[int, Cue]]:
    """Give every cue with the heat clock at which it came up, looking at the heat once a step.

    `facts` of other heats are passed over; each becomes known at its own `at_ms`. `earlier` are facts of other heats,
    which are over. Deterministic.
    """
    book = CompetitionBook(competition, (fact for fact in earlier if fact.heat != heat_id))
    desk = CueDesk(rules=rules or CueRules())
    script: list[tuple[int, Cue]] = []
    for observation in _observations(book, book.heats[heat_id], facts, step_ms):
        desk = cues(desk, observation)
        script += [(observation.clock_ms, cue) for cue in desk.fresh]
    return script


def observed(
    competition: Competition,
    state: HeatState,
    *,
    before: Mapping[str, Before],
    rows: Mapping[str, PartRows],
    expected_ms: Mapping[int, int] | None = None,
) -> Observation:
    """Make an observation of a state: with its overall notes and, where there is a forecast, its finish times."""
    return Observation(
        state=state,
        overall=overall_notes(competition, state, before=before, rows=rows),
        expected_ms=expected_ms or {},
        names={entry.id: entry.short for entry in competition.entries.values()},
        divisions={division.id: division.name for division in competition.divisions.values()},
    )


def _observations(book: CompetitionBook, heat: HeatBook, facts: Iterable[Fact], step_ms: int) -> Iterator[Observation]:
    coming = sorted((fact for fact in facts if fact.heat == heat.heat.id), key=lambda fact: fact.order, reverse=True)
    last_ms = coming[0].at_ms + AFTER_MS if coming else 0
    divisions = dict.fromkeys(book.competition.entry_on(heat.heat, lane).division for lane in heat.heat.lanes)
    before: dict[str, Before] = {}
    others = [each.state(each.until_ms) for each in book.heats_of(heat.event.id) if each is not heat and each.started]
    learned = lesson(others, seed=SEED)
    expected: Mapping[int, int] = {}
    for clock_ms in range(step_ms, last_ms + 1, step_ms):
        while coming and coming[-1].at_ms <= clock_ms:
            book.add(coming.pop())
        clock_of = partial(_clock, heat, clock_ms)
        before = before or {each: division_before(book, each, heat.event.id, clock_of=clock_of) for each in divisions}
        rows = event_rows(book, heat, clock_of=clock_of)
        state = heat.state(clock_ms)
        if clock_ms % FORECAST_MS < step_ms and looks_at_cap(state):
            expected = expected_finishes(book.competition, state, others=others, learned=learned)
        yield observed(book.competition, state, before=before, rows=rows, expected_ms=expected)


def _clock(own: HeatBook, clock_ms: int, heat: HeatBook) -> int:
    return clock_ms if heat is own else LATER_MS
