"""Who has finished, and in which place: told once nobody can take the place any more."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import groupby

from tallywire.core.cues.cue import Cue, CueRules, Kind, Value
from tallywire.core.cues.observation import Observation, Said
from tallywire.core.fold.heat import LaneState
from tallywire.core.formats.base import Status

CLOSE_MS = 1_000
"""A finish counts as close when it is less than this behind the one ahead."""


def home_ms(lane: LaneState) -> int:
    """When a finished lane finished, in formats whose result is the time on the heat clock."""
    return lane.finish_ms or 0


def finish_cues(
    observation: Observation,
    rules: CueRules,
    lanes: list[LaneState],
    *,
    decided_ms: Callable[[LaneState], int] = home_ms,
    first: Said = ("finish_first", {}),
) -> Iterator[Cue]:
    """Tell of each finish once the judge's call has had time to come; those who tie are told in one line.

    `decided_ms` says from when on a finished lane's place is its own, `first` how the win is told.
    """
    done = [lane for lane in lanes if lane.status is Status.FINISHED]
    ahead: LaneState | None = None
    for _, group in groupby(done, key=lambda lane: lane.place):
        level = tuple(group)
        at_ms = decided_ms(level[0])
        if observation.clock_ms >= at_ms + rules.finish_settles_ms:
            yield _finish(observation, level, at_ms, ahead, first)
        ahead = level[0]


def _finish(
    observation: Observation, level: tuple[LaneState, ...], at_ms: int, ahead: LaneState | None, first: Said
) -> Cue:
    time_ms, place = level[0].finish_ms or 0, level[0].place
    key = f"{level[0].entry.division}/{'+'.join(sorted(lane.entry.id for lane in level))}"
    behind_ms = 0 if ahead is None else time_ms - (ahead.finish_ms or 0)
    template, values, said = _words(level, behind_ms, ahead, first)
    numbers = {"place": place, "time_ms": time_ms}
    if template != "finish_plain":  # which tells no gap to a lane on a medical hold
        numbers["behind_ms"] = behind_ms
    values = {"name": level[0].entry.short, **values, **numbers}
    return observation.cue(Kind.FINISH, template, key, said, at_ms=at_ms, behind=place - 1, **values)


def _words(
    level: tuple[LaneState, ...], behind_ms: int, ahead: LaneState | None, first: Said
) -> tuple[str, dict[str, Value], tuple[LaneState, ...]]:
    """The line, the names in it, and the lanes it speaks of; a lane on a medical hold is not named."""
    if len(level) > 1:
        return "finish_level", {"other": level[1].entry.short}, level
    if ahead is None:
        return first[0], {**first[1]}, level
    if ahead.conduct.held:
        return "finish_plain", {}, level
    template = "finish_close" if behind_ms < CLOSE_MS else "finish"
    return template, {"ahead": ahead.entry.short}, (*level, ahead)
