"""All cues of a recorded heat, as the desk would have given them live."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import partial

from tallywire.core.clinching.before import Before, division_before
from tallywire.core.clinching.event_race import PartRows
from tallywire.core.cues.cue import Cue, CueRules
from tallywire.core.cues.desk import AFTER_MS, CueDesk, cues
from tallywire.core.cues.observation import Observation
from tallywire.core.cues.overall import overall_notes
from tallywire.core.facts import ASIDE, Fact
from tallywire.core.fold.book import LATER_MS, CompetitionBook
from tallywire.core.fold.heat import HeatState
from tallywire.core.forecast.guard import Guard, unguarded
from tallywire.core.forecast.of_event import expected_finishes, lesson, looks_at_cap
from tallywire.core.model.competition import Competition
from tallywire.core.standings.change import Changes, changes_of
from tallywire.core.standings.in_event import event_rows

STEP_MS = 1_000
"""How often the heat is looked at."""


def cue_script(  # noqa: PLR0913
    competition: Competition,
    heat_id: str,
    facts: Iterable[Fact],
    *,
    rules: CueRules | None = None,
    step_ms: int = STEP_MS,
    earlier: Iterable[Fact] = (),
    guard: Guard = unguarded,
) -> list[tuple[int, Cue]]:
    """Give every cue with the heat clock at which it came up, looking at the heat once a step.

    `facts` of other heats are passed over; each becomes known at its own `at_ms`. `earlier` are facts of other heats,
    which are over. `guard` runs the forecasts; after one that failed the finish times before it stand. Deterministic.
    """
    steps = desks(competition, heat_id, facts, rules=rules, step_ms=step_ms, earlier=earlier, guard=guard)
    return [(clock_ms, cue) for clock_ms, desk in steps for cue in desk.fresh]


def desks(  # noqa: PLR0913
    competition: Competition,
    heat_id: str,
    facts: Iterable[Fact],
    *,
    rules: CueRules | None = None,
    step_ms: int = STEP_MS,
    earlier: Iterable[Fact] = (),
    guard: Guard = unguarded,
) -> Iterator[tuple[int, CueDesk]]:
    """Give the desk after every step with the heat clock at it; everything else as in `cue_script`."""
    book = CompetitionBook(competition, (fact for fact in earlier if fact.heat != heat_id))
    desk = CueDesk(rules=rules or CueRules())
    every_ms = desk.rules.forecast_every_ms
    for observation in _observations(book, heat_id, facts, step_ms=step_ms, every_ms=every_ms, guard=guard):
        desk = cues(desk, observation)
        yield observation.clock_ms, desk


def observed(  # noqa: PLR0913
    competition: Competition,
    state: HeatState,
    *,
    before: Mapping[str, Before],
    rows: Mapping[str, PartRows],
    changes: Mapping[str, Changes],
    expected_ms: Mapping[int, int] | None = None,
) -> Observation:
    """Make an observation of a state: with its overall notes and, where there is a forecast, its finish times."""
    return Observation(
        state=state,
        overall=overall_notes(competition, state, before=before, rows=rows, changes=changes),
        expected_ms=expected_ms or {},
        names={entry.id: entry.short for entry in competition.entries.values()},
        divisions={division.id: division.name for division in competition.divisions.values()},
    )


def _observations(  # noqa: PLR0913
    book: CompetitionBook, heat_id: str, facts: Iterable[Fact], *, step_ms: int, every_ms: int, guard: Guard
) -> Iterator[Observation]:
    """What is seen at every step; the forecast is asked again after a number of milliseconds."""
    coming = _last_first(facts, heat_id)
    last_ms = coming[0].at_ms + AFTER_MS if coming else 0
    before: dict[str, Before] = {}
    others = _others(book, heat_id)
    learned = guard(lambda: lesson(others))
    expected: Mapping[int, int] = {}
    for clock_ms in range(step_ms, last_ms + 1, step_ms):
        while coming and coming[-1].at_ms <= clock_ms:
            book.add(coming.pop())
        snapshot = book.at_clocks({heat_id: clock_ms}, others_ms=LATER_MS)
        heat = snapshot.heats[heat_id]
        before = before or {each: division_before(snapshot, each, heat.event.id) for each in heat.divisions}
        rows = event_rows(snapshot, heat)
        if clock_ms % every_ms < step_ms and looks_at_cap(heat.state):
            ask = partial(expected_finishes, book.competition, heat.state, others=others, learned=learned)
            found = guard(ask)
            expected = expected if found is None else found
        changes = changes_of(snapshot, heat)
        yield observed(book.competition, heat.state, before=before, rows=rows, changes=changes, expected_ms=expected)


def _last_first(facts: Iterable[Fact], heat_id: str) -> list[Fact]:
    """The facts about a heat, the last one first; those beside the counts, whose order is another, are left out."""
    own = (fact for fact in facts if fact.heat == heat_id and not isinstance(fact, ASIDE))
    return sorted(own, key=lambda fact: fact.order, reverse=True)


def _others(book: CompetitionBook, heat_id: str) -> list[HeatState]:
    """The other heats of the event, which are over."""
    over = book.at_clocks({}, others_ms=LATER_MS)
    heats = over.heats_of(over.heats[heat_id].event.id)
    return [each.settled for each in heats if each.started and each.heat.id != heat_id]
