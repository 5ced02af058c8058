"""When a lane has stalled: after a silence that, by its own forecast, hardly any wait for the next fact lasts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from tallywire.core.forecast.ends import learn_from
from tallywire.core.forecast.legs import legs_of
from tallywire.core.forecast.mixed import Array
from tallywire.core.forecast.outlook import look_ahead
from tallywire.core.forecast.reading import read
from tallywire.core.forecast.scene import Runner, Scene
from tallywire.core.forecast.silence import REST_CHANCE, Wait, survival

GOES_ON = 0.02
"""One wait in fifty, rests included, lasts longer than the silence that is called a stall: of twenty lanes a heat, that
is a look too many now and then, and no stop that is missed (judged, no source)."""
OWN_GAPS, OWN_LEAST = 5, 3
"""A lane's own rhythm is the median of its last five gaps inside the station; fewer than three say nothing."""
MOST_MS = 3_600_000.0
_HALVINGS = 40


def stalls(scene: Scene) -> Mapping[int, int]:
    """Give, by lane, after how many milliseconds without a fact it has stalled; only of lanes with work left."""
    legs = legs_of(scene.plan)
    reading = read(legs, [runner.trail for runner in scene.runners], start_ms=scene.start_ms)
    learned = learn_from(scene, legs, reading)[0]
    wait = look_ahead(legs, reading, learned, scene.prior, clock=(float(scene.now_ms), np.inf)).wait
    works = reading.current < len(legs.amount)
    begun = legs.begins_at[reading.current]
    silences = silence_of(_at_own_rhythm(wait, scene.runners, begun))
    return {
        runner.lane: round(float(silence))
        for runner, silence, working in zip(scene.runners, silences, works, strict=True)
        if working and not runner.out and runner.finish_ms is None
    }


def _at_own_rhythm(wait: Wait, runners: Sequence[Runner], begun: Array) -> Wait:
    """Let no lane stall that only goes on in its own rhythm (L): the forecast shares most of it among the field."""
    own = np.array([_rhythm_ms(runner.trail, done) for runner, done in zip(runners, begun, strict=True)])
    more = np.maximum(own - wait.usual_ms, 0.0)
    return replace(wait, usual_ms=wait.usual_ms + more, rest_ms=wait.rest_ms + more)


def _rhythm_ms(trail: Sequence[tuple[int, int]], begun: float) -> float:
    """The median gap between the last facts inside a station that began at so many units; 0 without enough of them."""
    inside = [at_ms for at_ms, done in trail if done > begun][-OWN_GAPS - 1 :]
    gaps = np.diff(inside)
    return float(np.median(gaps)) if len(gaps) >= OWN_LEAST else 0.0


def silence_of(wait: Wait) -> Array:
    """Give the silence (L) beyond which one wait in fifty goes on, from the laws of the usual wait and of a rest."""
    low, high = np.zeros_like(wait.usual_ms), np.full_like(wait.usual_ms, MOST_MS)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        usual = (1 - REST_CHANCE) * survival(middle, wait.usual_ms, wait.usual_k)
        goes_on = usual + REST_CHANCE * survival(middle, wait.rest_ms, wait.rest_k) > GOES_ON
        low, high = np.where(goes_on, middle, low), np.where(goes_on, high, middle)
    return high
