"""Small heats of lifts, bars and pieces, and what the desk says of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from core.folding import fold
from core.looks import heat_script
from core.samples import HEAT, Pad, competition, workout
from tallywire.core.cues import Cue, CueDesk, Kind, Observation, cues, say
from tallywire.core.facts import Fact
from tallywire.core.model.competition import Competition
from tallywire.core.model.workout import Mark, Station
from tallywire.formats.intervals.rules import Counts, IntervalRules
from tallywire.formats.ladder.rules import LadderRules
from tallywire.formats.max_load.rules import LiftingRules
from tallywire.wire.cue_wording import default_wording

WORDING = default_wording()
END_MS = 301_000
UNDONE_MS = 60_000
"""Stands for a piece that was not completed in its window."""
OVERALL = (Kind.CLINCHED, Kind.OVERALL_LEAD)


def lift_work(attempts: int | None = 3, *, lanes: int = 3) -> Competition:
    """A lift with so many attempts; five minutes."""
    rules = LiftingRules(unit="kg", bar_milli=20_000, collar_milli=0, plates_milli=(10_000, 500), attempts=attempts)
    station = Station(movement="snatch", amount=attempts or 1)
    work = replace(workout(kind="max_load", rounds=((station,),), cap_ms=300_000), rules=rules)
    return competition(work, lanes=lanes)


def ladder_work(
    *, bars: int = 3, lanes: int = 4, tie_break: Mark | None = None, cap_ms: int | None = None
) -> Competition:
    """Two lifts a bar, a minute a bar."""
    stations = tuple(Station(movement="squat", amount=2, loads={"women": f"{50 + 10 * n} kg"}) for n in range(bars))
    work = workout(kind="ladder", rounds=(stations,), cap_ms=cap_ms or bars * 60_000, tie_break=tie_break)
    return competition(replace(work, rules=LadderRules(window_ms=60_000)), lanes=lanes)


def pieces_work(counts: Counts = Counts.SUM, *, timed: bool = False, lanes: int = 3, pieces: int = 3) -> Competition:
    """Pieces of a minute with half a minute of rest; timed ones are ten reps."""
    rules = IntervalRules(pieces=pieces, work_ms=60_000, rest_ms=30_000, counts=counts, timed=timed)
    work = workout(kind="intervals", rounds=((Station(movement="row", amount=10, unit="calories"),),), cap_ms=300_000)
    return competition(replace(work, rules=rules), lanes=lanes)


def told(work: Competition, facts: Iterable[Fact]) -> list[tuple[int, Cue]]:
    """What is told about the heat itself."""
    return heat_script(work, [Pad("starter").start(), *facts, Pad("ender").end(END_MS)])


def lines(work: Competition, facts: Iterable[Fact]) -> list[str]:
    """The same in words."""
    return [say(cue, WORDING) for _, cue in told(work, facts)]


def lift(pad: Pad, at_ms: int, kg: float, *, good: bool) -> list[Fact]:
    """An attempt declared twenty seconds before it is judged."""
    declared = pad.declare(at_ms - 20_000, round(kg * 1000))
    return [declared, pad.made(at_ms) if good else pad.failed(at_ms)]


def lifts(lane: int, *attempts: float, first_ms: int = 30_000, apart_ms: int = 60_000) -> list[Fact]:
    """Attempts of one lane, a minute apart; a minus stands for a miss."""
    pad, facts = Pad(f"lane-{lane}", lane), list[Fact]()
    for number, kg in enumerate(attempts):
        facts += lift(pad, first_ms + 1_000 * lane + apart_ms * number, abs(kg), good=kg > 0)
    return facts


def bars(lane: int, *good: int) -> list[Fact]:
    """Good lifts in each window, ten seconds apart."""
    pad = Pad(f"lane-{lane}", lane)
    starts = [
        60_000 * window + 10_000 * each + lane for window, count in enumerate(good) for each in range(1, count + 1)
    ]
    return [pad.made(at_ms) for at_ms in starts]


def reps(lane: int, *pieces: int | tuple[int, int]) -> list[Fact]:
    """So many reps in each piece, two seconds apart or so many ms."""
    pad, facts = Pad(f"lane-{lane}", lane), list[Fact]()
    for number, piece in enumerate(pieces):
        count, step_ms = piece if isinstance(piece, tuple) else (piece, 2_000)
        facts += [pad.reps(90_000 * number + step_ms * n) for n in range(1, count + 1)]
    return facts


def desk_after(work: Competition, facts: Sequence[Fact], *clocks_ms: int) -> CueDesk:
    """The desk after looks at these times."""
    desk = CueDesk()
    for clock_ms in clocks_ms:
        known = [fact for fact in facts if fact.at_ms <= clock_ms]
        desk = cues(desk, Observation(state=fold(work, HEAT, [Pad("starter").start(), *known], clock_ms)))
    return desk


def current(desk: CueDesk) -> list[str]:
    """What stands on the desk, in words."""
    return [say(cue, WORDING) for cue in desk.current if cue.kind not in OVERALL]
