"""From what an entry did in earlier events to what is believed of it before the next one starts.

In each event an entry's level is a part that it keeps, plus a part that belongs to that day: of the differences between
entries in one event, about three fifths remain in the next (judged from practice, no source). A level is measured
against the whole event, because heats are seeded: to be average in the last heat means more than to be average in the
first.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import fmean

from tallywire.core.fold.heat import HeatState
from tallywire.core.forecast.answer import Forecast
from tallywire.core.forecast.model import History
from tallywire.core.forecast.of_heat import scene_of
from tallywire.core.forecast.predict import forecast
from tallywire.core.formats.registry import format_of

KEPT_SD, DAY_SD = 0.062, 0.05
"""Standard deviations of what an entry keeps and of the day, on the log of time; together those of `Prior.entry_sd`."""
WHOLE_SD = 0.1
"""What the model believes of a lane's pace over the whole work: level, slope, steps and strengths of `Prior`."""
DRAWS = 50
Level = tuple[float, float]
"""The log of an entry's time over the event's, and how sure that is."""


def histories(earlier: Sequence[HeatState], *, seed: int) -> dict[str, History]:
    """Give what the finished heats of earlier events say of each entry; only formats with one count are used."""
    found: dict[str, list[Level]] = {}
    for event in dict.fromkeys(state.event.id for state in earlier):
        for entry, level in _levels([state for state in earlier if state.event.id == event], seed).items():
            found.setdefault(entry, []).append(level)
    return {entry: _history(levels) for entry, levels in found.items()}


def _levels(heats: Sequence[HeatState], seed: int) -> dict[str, Level]:
    """Each entry's level in one event, against the mean of its division there."""
    levels: dict[str, dict[str, Level]] = {}
    for state in heats:
        if not format_of(state.event.workout).counting.one_count or not state.lanes:
            continue
        learned = forecast(scene_of(state), seed=seed, draws=DRAWS)
        worked = [lane.entry for lane in state.lanes.values() if lane.tally.done]
        for entry in worked:
            levels.setdefault(entry.division, {})[entry.id] = _level(learned, entry.id)
    found: dict[str, Level] = {}
    for own in levels.values():
        middle = fmean(level for level, _ in own.values())
        found |= {entry: (level - middle, sd) for entry, (level, sd) in own.items()}
    return found


def _level(learned: Forecast, entry: str) -> Level:
    mean, sd = learned.log_pace[entry]
    field = 0.0 if learned.learned is None else float(learned.learned.mean[0])
    return field + mean, sd


def _history(levels: Sequence[Level]) -> History:
    """Weigh the events by how certain each is; the day to come is as uncertain as any.

    Its own event has already shrunk a level towards the field; that is undone before the level is weighed.
    """
    shown = [1 / max(1 / sd**2 - 1 / WHOLE_SD**2, 1.0) for _, sd in levels]
    weights = [1 / (variance + DAY_SD**2) for variance in shown]
    seen = [level * variance / sd**2 for (level, sd), variance in zip(levels, shown, strict=True)]
    precision = 1 / KEPT_SD**2 + sum(weights)
    mean = sum(weight * level for weight, level in zip(weights, seen, strict=True)) / precision
    return History(log_pace=mean, sd=(1 / precision + DAY_SD**2) ** 0.5)
