"""Heats for the trial from the program's own generator, in those of its worlds that are named as the trial's are.

Nothing that the report says rests on them: the program would be tried on its own bodies. They tell whether a rehearsal
in such a world is one that the forecast can make sense of.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np

from core.samples import HEAT, competition
from forecast.generators import MadeHeat, Trail
from forecast.worlds import make_heat
from tallywire.core.facts import BlockCompleted, RepCounted, Withdrawn
from tallywire.core.made_up.format_work import Draft
from tallywire.core.made_up.heat import MadeUp, true_work
from tallywire.core.made_up.worlds import WORLDS
from tallywire.core.model.workout import Plan, Workout

_NO_CAP_MS = 10 * 3_600_000


def made_by_program(kind: str, seed: int) -> MadeHeat:
    """Make a heat of the workout that the trial's world has drawn for a seed, worked as the program's world goes."""
    drawn = make_heat(kind, seed)
    work = competition(replace(drawn.plan.workout, time_cap_ms=_NO_CAP_MS), lanes=len(drawn.trails))
    made = MadeUp(competition=work, world=WORLDS[kind], dice_of=lambda name: Random(f"{seed}/{kind}/{name}"))
    found = [_lane(drawn.plan.workout, true_work(made, work.heats[HEAT], lane)) for lane in work.heats[HEAT].lanes]
    trails, finishes, left = zip(*found, strict=True)
    done = [finish for finish in finishes if np.isfinite(finish)]
    cap = int(np.median(done) * Random(f"{seed}/{kind}/cap").uniform(0.9, 1.3)) if done else 900_000
    workout = replace(drawn.plan.workout, time_cap_ms=cap)
    return MadeHeat(
        kind=kind, plan=Plan(workout, laps=1), trails=list(trails), finish_ms=list(finishes), left_ms=list(left)
    )


def _lane(workout: Workout, work: list[Draft]) -> tuple[Trail, float, float]:
    """Give the counts as taps show them, when it finishes, and when it leaves; infinite for what does not happen."""
    amounts = [station for each in workout.rounds for station in each]
    ends = np.cumsum([station.amount for station in amounts])
    done, left = 0, float("inf")
    trail: Trail = []
    for kind, at_ms, _ in work:
        if kind is RepCounted:
            done += 1
        elif kind is BlockCompleted:
            done = int(next(end for end in ends if end > done))
        elif kind is Withdrawn:
            left = at_ms
            continue
        else:
            continue
        trail.append((round(at_ms), done))
    is_whole = bool(trail) and done == ends[-1]
    return trail, float(trail[-1][0]) if is_whole else float("inf"), left
