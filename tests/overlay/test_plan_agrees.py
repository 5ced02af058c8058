"""The page's arithmetic (overlay/shared/plan.js) against the server's (tallywire.core.model.workout.Plan)."""

from __future__ import annotations

import json
import random
import subprocess
from pathlib import Path
from typing import Any

import pytest

from core.folding import fold
from core.samples import HEAT, competition
from tallywire.core.model.competition import Competition
from tallywire.core.model.workout import Credit, Plan, Station, Workout
from tallywire.core.views.heat import heat_frame

HERE = Path(__file__).parent


def random_competition(chance: random.Random) -> Competition:
    """One heat of a random workout of one to four rounds, for time or as many repetitions as possible."""

    def station() -> Station:
        credit = Credit.BLOCK if chance.random() < 0.3 else Credit.UNIT
        return Station(movement="haul", amount=chance.randint(1, 60), credit=credit)

    rounds = tuple(tuple(station() for _ in range(chance.randint(1, 5))) for _ in range(chance.randint(1, 4)))
    work = Workout(format=chance.choice(["for_time", "amrap"]), rounds=rounds, time_cap_ms=900_000)
    return competition(work)


def asked(known: Competition) -> tuple[Plan, dict[str, Any]]:
    """Every count from before the start to past the end (of two laps and a bit, where laps repeat)."""
    state = fold(known, HEAT, [])
    question = {
        "event": heat_frame(known, state)["event"],
        "dones": list(range(-2, state.plan.lap_done * 2 + 70)),
    }
    return state.plan, question


def expected(plan: Plan, question: dict[str, Any]) -> dict[str, Any]:
    """The same answers from the server's plan."""
    return {"at": [_numbers(plan, plan.clamp(done)) for done in question["dones"]]}


def _numbers(plan: Plan, done: int) -> list[int | None]:
    position = plan.position(done)
    _, leg = plan.leg_at(done)
    station = [leg.round, leg.number, position.round, position.station_done]
    marks = [position.scored, position.next_mark, position.round_mark]
    return [done, *station, *marks, plan.block_end(done), plan.scored(done)]


@pytest.mark.parametrize("seed", range(3))
def test_page_and_server_count_alike(seed: int) -> None:
    """For random workouts and every count, position, marks, block end and scored reps are the server's."""
    chance = random.Random(seed)
    cases = [asked(random_competition(chance)) for _ in range(20)]
    questions = [question for _, question in cases]
    node = subprocess.run(
        ["node", HERE / "plan_vectors.js"], input=json.dumps(questions), capture_output=True, text=True, check=True
    )
    answers = json.loads(node.stdout)
    for (plan, question), answer in zip(cases, answers, strict=True):
        assert answer == expected(plan, question), question["event"]
