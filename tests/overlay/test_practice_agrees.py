"""How practice is marked, against an outside check, scipy's assignment, and with judges of whom all is known.

Outside check: scipy.optimize.linear_sum_assignment (SciPy 1.13 and later) finds the least cost of pairing two lists
when any order is allowed. The page pairs in order; for a cost that grows with the distance no other order is cheaper.
"""

from __future__ import annotations

import json
import subprocess
from itertools import pairwise
from pathlib import Path
from random import Random, SystemRandom
from typing import Any

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from shell.rehearsed import SCENARIOS
from tallywire.shell.files import load_competition
from tallywire.shell.made_up import Practice

PAGES = Path(__file__).parents[2] / "overlay" / "practice"
EARLY_MS, LATE_MS = 500, 3000
FAR = 1e9
"""What a pair costs that may not be."""


def answers(code: str, questions: list[Any]) -> list[Any]:
    """Run a module's code in node over questions."""
    script = f"{code}\nconst all = JSON.parse(require_input()); process.stdout.write(JSON.stringify(all.map(answer)));"
    head = 'import { readFileSync } from "node:fs";\nconst require_input = () => readFileSync(0, "utf8");\n'
    command = ["node", "--input-type=module", "--eval", head + script]
    done = subprocess.run(command, input=json.dumps(questions), capture_output=True, text=True, check=True)
    found: list[Any] = json.loads(done.stdout)
    return found


def least_cost(moments: list[int], taps: list[int]) -> float:
    """What pairing costs at least, in any order; what stays alone is paired with a place beside the lists."""
    n, m, alone = len(moments), len(taps), LATE_MS / 2
    costs = np.full((n + m, n + m), FAR)
    lags = np.subtract.outer(np.array(taps), np.array(moments)).T
    costs[:n, :m] = np.where((lags >= -EARLY_MS) & (lags <= LATE_MS), np.abs(lags), FAR)
    costs[:n, m:][np.eye(n, dtype=bool)] = alone
    costs[n:, :m][np.eye(m, dtype=bool)] = alone
    costs[n:, m:] = 0
    return float(costs[linear_sum_assignment(costs)].sum())


def test_no_other_pairing_of_taps_and_reps_costs_less() -> None:
    """Over 300 random lanes with slips of every kind the page's pairs are in order and cost what scipy finds."""
    seed = SystemRandom().randrange(10**6)
    dice = Random(seed)
    questions = []
    for _ in range(300):
        moments = sorted(dice.randrange(60_000) for _ in range(dice.randrange(1, 30)))
        slips = [dice.randrange(60_000) for _ in range(dice.randrange(6))]
        meant = [at + dice.randrange(-600, 3500) for at in moments if dice.random() > 0.15]
        questions.append([moments, sorted(meant + slips)])
    code = f"""import {{ matched }} from "{PAGES / "matching.js"}";
    const answer = ([moments, taps]) => matched(moments, taps, {{ early_ms: {EARLY_MS}, late_ms: {LATE_MS} }});"""
    for (moments, taps), pairs in zip(questions, answers(code, questions), strict=True):
        assert pairs == sorted(pairs), seed
        assert all(before[1] < after[1] for before, after in pairwise(pairs)), seed
        lags = [taps[tap] - moments[moment] for moment, tap in pairs]
        assert all(-EARLY_MS <= lag <= LATE_MS for lag in lags), seed
        alone = len(moments) + len(taps) - 2 * len(pairs)
        assert sum(map(abs, lags)) + alone * LATE_MS / 2 == pytest.approx(least_cost(moments, taps)), seed


def lanes() -> list[dict[str, Any]]:
    """A lane of every heat of both competitions, which have all formats and team forms."""
    found = []
    for name in ("saltmarsh", "estuary"):
        competition = load_competition(SCENARIOS / f"{name}.toml")
        practice, seed = Practice(competition), SystemRandom().randrange(10**6)
        found += [practice.lane(heat.id, min(heat.lanes), seed) for heat in competition.heats.values() if heat.lanes]
    return found


MARK = f"""import {{ mark }} from "{PAGES / "marking.js"}";
import {{ movesOf, poseAt }} from "{PAGES / "motion.js"}";
import {{ stepsOf }} from "{PAGES / "work.js"}";
function answer({{ frame, truth, late }}) {{
  const lane = frame.lanes[frame.order[0]];
  const facts = truth.filter(({{ fact }}) => !["finished", "withdrawn"].includes(fact));
  const tapped = facts.map((fact) => ({{ ...fact, at_ms: fact.at_ms + late }}));
  const steps = stepsOf(frame.event, lane, truth);
  const moves = movesOf(steps, lane.division);
  const reps = steps.filter(({{ kind, leg }}) => kind === "rep" && leg.credit === "unit" && leg.unit === "reps");
  const tops = reps.map(({{ at_ms }}) => poseAt(moves, at_ms - 0.01).height);
  const marked = mark({{ event: frame.event, lane, truth, facts: tapped, until_ms: frame.clock.cap_ms }});
  return {{ ...marked.all, score: marked.score, tops, stations: marked.stations.length }};
}}"""


def test_a_perfect_judge_has_a_hundred_in_every_format() -> None:
    """Whoever taps 150 ms after everything that happens has no fault, and every rep was seen at the line."""
    made = [{**lane, "late": 150} for lane in lanes()]
    for lane, marked in zip(made, answers(MARK, made), strict=True):
        name = lane["frame"]["event"]["format"], lane["seed"]
        faults = ("missed", "doubled", "extra", "late", "let_through", "refused", "wrong")
        assert {fault: marked[fault] for fault in faults} == dict.fromkeys(faults, 0), name
        assert marked["score"] == 100, name
        assert (marked["due"], marked["called"]) == (marked["counted"], marked["no_reps"]), name
        assert marked["due"] > 0 and marked["stations"] > 0, name
        assert set(marked["lags_ms"]) == {150}, name
        assert all(height == pytest.approx(1, abs=0.01) for height in marked["tops"]), name


def test_whoever_is_late_is_told_by_how_much() -> None:
    """A judge who is 900 ms late everywhere is late at every rep, and loses half of what those are worth."""
    made = [{**lane, "late": 900} for lane in lanes()]
    for lane, marked in zip(made, answers(MARK, made), strict=True):
        name = lane["frame"]["event"]["format"], lane["seed"]
        if min(marked["lags_ms"]) == max(marked["lags_ms"]) == 900:
            assert marked["late"] == marked["counted"], name
        assert marked["score"] < 100, name
