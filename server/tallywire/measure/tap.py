"""A tap on the event loop, from its text to the bytes of every frame: its stages, and what makes it dearer."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine, Iterator
from functools import partial
from itertools import islice
from statistics import median

from tallywire.core.model.competition import Competition
from tallywire.measure.dry_run import DryRun, dry_run
from tallywire.measure.figures import Cell, Figure, FigureTable, Goal
from tallywire.measure.long_heat import HEAT, long_competition
from tallywire.measure.scale import Scale
from tallywire.measure.turns import MADE, StopWatch, in_turn
from tallywire.measure.ways import EIGHT, LANES
from tallywire.shell.books import Change
from tallywire.wire.fact_lines import fact_line
from tallywire.wire.merge_patch import diff
from tallywire.wire.replies import Stamp, patch
from tallywire.wire.text_frame import text_frame
from tallywire.wire.trusted_lines import trusted_fact

FACTS = 500
MOST_FACTS = 10_000
_VIEWS = {1: ("heat",), 3: ("heat", "gaps", "table"), 8: EIGHT}
_PARTS = (MADE, "compared", "encoded")
Laps = dict[tuple[str, str], float]
_ONE_MS, _EIGHT_MS, _MANY_FACTS = 1.2, 4, 1.5


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Take a tap apart, and then let lanes, facts and views grow one at a time."""
    taps = scale.sized(200, quick=20)
    yield _stages(taps, scale)
    yield _by_views(taps, scale)
    yield _by_lanes(taps, scale)
    yield _by_facts(taps, scale)


def _by_views(taps: int, scale: Scale) -> FigureTable:
    competition = long_competition(lanes=LANES, taps=FACTS + taps)
    found = _costs({count: partial(_tap_ms, competition, FACTS, count, taps) for count in _VIEWS}, scale)
    goals = (
        Goal(says="a tap with one watcher", found=found[1], bound=_ONE_MS, unit="ms"),
        Goal(says="a tap with all eight views", found=found[8], bound=_EIGHT_MS, unit="ms"),
    )
    return _table("views watched", found, f"{LANES} lanes, {FACTS} facts", goals)


def _by_lanes(taps: int, scale: Scale) -> FigureTable:
    sizes = scale.sized((1, 10, 20, 40), quick=(1, 4))
    halls = {lanes: long_competition(lanes=lanes, taps=FACTS + taps) for lanes in sizes}
    found = _costs({lanes: partial(_tap_ms, hall, FACTS, 8, taps) for lanes, hall in halls.items()}, scale)
    return _table("lanes", found, f"{FACTS} facts, eight views watched")


def _by_facts(taps: int, scale: Scale) -> FigureTable:
    sizes = scale.sized((100, 2_000, MOST_FACTS), quick=(20, 100))
    # One workout for all of them: a longer one has more stations, whatever was tapped.
    competition = long_competition(lanes=LANES, taps=sizes[-1] + taps)
    found = _costs({facts: partial(_tap_ms, competition, facts, 8, taps) for facts in sizes}, scale)
    ratio = found[sizes[-1]].over(found[sizes[0]])
    goal = Goal(says=f"a tap at {sizes[-1]} facts over one at {sizes[0]}", found=ratio, bound=_MANY_FACTS)
    return _table("facts", found, f"{LANES} lanes, eight views watched", (goal,))


def _costs(ways: dict[int, Callable[[], Coroutine[None, None, float]]], scale: Scale) -> dict[int, Figure]:
    def act(way: Callable[[], Coroutine[None, None, float]]) -> float:
        return asyncio.run(way())

    found = in_turn({str(size): partial(act, way) for size, way in ways.items()}, scale)
    return {size: found[str(size)] for size in ways}


async def _tap_ms(competition: Competition, facts: int, views: int, taps: int) -> float:
    async with dry_run(competition, facts=facts, views=_VIEWS[views]) as run:
        return await run.tap_ms(taps)


def _table(grows: str, found: dict[int, Figure], fixed: str, goals: tuple[Goal, ...] = ()) -> FigureTable:
    rows: list[tuple[Cell, ...]] = list(found.items())
    return FigureTable(
        title=f"A tap and all that follows from it, by {grows} ({fixed})",
        columns=(grows, "ms of the event loop"),
        rows=tuple(rows),
        goals=goals,
    )


def _stages(taps: int, scale: Scale) -> FigureTable:
    competition = long_competition(lanes=LANES, taps=FACTS + taps)
    rounds = [asyncio.run(_apart(competition, taps)) for _ in range(scale.repeats)]
    found = {stage: Figure.of(each[stage] for each in rounds) for stage in rounds[0]}
    rows: list[tuple[Cell, ...]] = [
        (name, *(found.get((name, part), "–") for part in _PARTS))
        for name in dict.fromkeys(stage for stage, _ in found)
    ]
    return FigureTable(
        title=f"The stages of a tap, each by itself, µs, medians of {taps} taps ({LANES} lanes, {FACTS} facts)",
        columns=("stage", *_PARTS),
        rows=tuple(rows),
        notes=("a view finds made what those above it needed too",),
    )


async def _apart(competition: Competition, taps: int) -> Laps:
    """Give the median microseconds of each stage."""
    async with dry_run(competition, facts=FACTS, views=()) as run:
        now = run.live.read_model.snapshot()
        known = {view: run.live.read_model.frame(view, HEAT, now) for view in EIGHT}
        watch = StopWatch()
        for fact in islice(run.coming, taps):
            run.clock.jump(0.1)
            _walk(run, fact_line(fact), known, watch)
    return {stage: median(times) for stage, times in watch.laps.items()}


def _walk(run: DryRun, line: bytes, known: dict[str, dict[str, object]], watch: StopWatch) -> None:
    """Go through the stages with one fact."""
    read_model, books = run.live.read_model, run.live.books
    watch.begin()
    fact = trusted_fact(line)
    watch.lap("read from its line")
    books.add(fact, Change())
    watch.lap("into the books")
    now = read_model.snapshot()
    assert now.heat(HEAT).state  # noqa: S101
    watch.lap("the heat's state and places")
    for view in EIGHT:
        frame = read_model.frame(view, HEAT, now)
        watch.lap(f"view {view}")
        found = diff(known[view], frame)
        watch.lap(f"view {view}", _PARTS[1])
        known[view] = frame
        text_frame(patch(Stamp(view=view, heat=HEAT, number=1, unix_ms=now.unix_ms), change=found))
        watch.lap(f"view {view}", _PARTS[2])
