"""How good the forecasts of a heat were, beside what came: for an organiser to print.

A server keeps what was said at every full minute (`kept`); where that is not given, it is worked out again. A forecast
rests on facts alone, with one seed, so the same program gives the same from a recording, to the digit; only facts that
came late, as corrections do, stand in it sooner.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from tallywire.core.call.kept import SaidThen, measures, newest
from tallywire.core.call.steps import Sight, see
from tallywire.core.call.whole import look_ahead
from tallywire.core.facts import Fact
from tallywire.core.fold.book import LATER_MS, CompetitionBook
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.forecast.answer import Spread
from tallywire.core.forecast.guard import Guard, unguarded
from tallywire.core.formats.base import Status
from tallywire.core.gaps.gaps import work_ms
from tallywire.core.model.competition import Competition

MOMENTS = (0.25, 0.5, 0.75)
"""Parts of the time that the first finisher took, or of the cap where nobody finished."""
OPEN = (Status.READY, Status.WORKING)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What was said of a lane at a moment, and what came.

    `measure` says of what: `finish_ms`, or for those who did not finish `reps`, or `load` (thousandths of its unit).
    `constant` is what the pace so far would have come to, of a finish alone. `inside_cap` is the chance that was said.
    """

    part: float
    at_ms: int
    lane: int
    entry: str
    measure: str
    said: Spread
    came: int
    constant: float | None
    inside_cap: float | None
    finished: bool

    @property
    def held(self) -> bool:
        """Whether what came lies in the range of four in five."""
        low, high = self.said.four_in_five
        return low <= self.came <= high


def scorecard(  # noqa: PLR0913
    competition: Competition,
    facts: Iterable[Fact],
    heat: str,
    *,
    earlier: Iterable[Fact] = (),
    kept: Sequence[SaidThen] = (),
    guard: Guard = unguarded,
) -> list[Told]:
    """Give what was said in a heat that is over, moment by moment. `facts` are its own, `earlier` those raced before.

    Of `kept` the newest up to the moment is taken. `guard` runs the forecasts; nothing is told of a moment whose
    forecast failed. Empty for a heat that never started, and for a format or scores that are not forecast.
    """
    earlier, own = list(earlier), sorted(facts, key=lambda fact: fact.order)
    end = _seen(CompetitionBook(competition, [*earlier, *own]), heat, LATER_MS).state
    if end.started is None:
        return []
    book, told = CompetitionBook(competition, earlier), list[Told]()
    for part, moment_ms in _moments(end, end.started.at_ms):
        said = newest(kept, (heat, end.started.id), moment_ms)
        at_ms = moment_ms if said is None else said.at_ms
        while own and own[0].at_ms <= at_ms:
            book.add(own.pop(0))
        sight = _seen(book, heat, at_ms)
        told += _told(sight, said or _worked_out(competition, sight, guard), end, part)
    return told


def _moments(end: HeatState, start_ms: int) -> list[tuple[float, int]]:
    finishes = [lane.finish_ms for lane in end.lanes.values() if lane.finish_ms is not None]
    whole_ms = min(finishes, default=end.event.workout.time_cap_ms) - start_ms
    return [(part, start_ms + round(part * whole_ms)) for part in MOMENTS]


def _seen(book: CompetitionBook, heat: str, at_ms: int) -> Sight:
    snapshot = book.at_clocks({heat: at_ms}, others_ms=LATER_MS)
    return see(snapshot, snapshot.heats[heat])


def _worked_out(competition: Competition, sight: Sight, guard: Guard) -> SaidThen | None:
    """What the forecast says of a sight today; None where nothing is forecast."""
    outlook, started = guard(lambda: look_ahead(competition, sight)), sight.state.started
    if outlook is None or started is None:
        return None
    lanes = outlook.lanes.items()
    return SaidThen(
        heat=sight.state.heat.id,
        start=started.id,
        at_ms=sight.clock_ms,
        said={number: measures(lane) for number, lane in lanes},
        inside_cap={number: lane.inside_cap for number, lane in lanes if lane.inside_cap is not None},
    )


def _told(sight: Sight, kept: SaidThen | None, end: HeatState, part: float) -> Iterator[Told]:
    """What was said at one moment of those who were still at work and have a result now."""
    if kept is None:
        return
    for number, lane in end.lanes.items():
        before = sight.state.lanes[number]
        compared = _compared(lane, kept.said.get(number, {}))
        if before.status in OPEN and lane.status.has_result and compared is not None:
            measure, said, came = compared
            yield Told(
                part=part,
                at_ms=sight.clock_ms,
                lane=number,
                entry=lane.entry.id,
                measure=measure,
                said=said,
                came=came,
                constant=_constant_pace(sight.state, before) if measure == "finish_ms" else None,
                inside_cap=kept.inside_cap.get(number),
                finished=lane.finish_ms is not None,
            )


def _compared(lane: LaneState, said: Mapping[str, Spread]) -> tuple[str, Spread, int] | None:
    if "finish_ms" in said and lane.finish_ms is not None:
        return "finish_ms", said["finish_ms"], lane.finish_ms
    measure = next((name for name in ("load", "reps") if name in said), None)
    return None if measure is None else (measure, said[measure], lane.outcome.score)


def _constant_pace(state: HeatState, lane: LaneState) -> float | None:
    """When the lane would be home at the mean pace of the work it has done."""
    whole, done = state.plan.total_done, lane.tally.trail[-1] if lane.tally.trail else None
    work = 0 if done is None else work_ms(state.plan, done[1])
    if whole is None or done is None or not work:
        return None
    start_ms = 0 if state.started is None else state.started.at_ms
    return start_ms + (done[0] - start_ms) * work_ms(state.plan, whole) / work


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """How good what was told was: how many ranges held, how far the middle and a constant pace were off on average
    (ms, of finishes; None without any), and the Brier score of the chances to make the cap.
    """

    told: int
    held: int
    off_ms: float | None
    constant_off_ms: float | None
    brier: float | None


def marks_of(told: Sequence[Told]) -> Marks:
    """Sum up."""
    finishes = [each for each in told if each.constant is not None]
    chances = [(each.inside_cap, each.finished) for each in told if each.inside_cap is not None]
    return Marks(
        told=len(told),
        held=sum(each.held for each in told),
        off_ms=_mean([abs(each.said.median - each.came) for each in finishes]),
        constant_off_ms=_mean([abs((each.constant or 0.0) - each.came) for each in finishes]),
        brier=_mean([(chance - finished) ** 2 for chance, finished in chances]),
    )


def _mean(values: Sequence[float]) -> float | None:
    return sum(values) / len(values) if values else None
