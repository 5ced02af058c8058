"""What a trial says: coverage, reliability, CRPS and log loss."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from forecast.trial import OURS, Case

CENTRAL = {50: (0.25, 0.75), 80: (0.1, 0.9), 95: (0.025, 0.975)}


Row = tuple[str, str, str, bool]
"""What is looked at, what is asked of it, what was found, and whether that is enough."""


def as_table(rows: Sequence[Row]) -> list[str]:
    """Targets as a table in Markdown."""
    head = ["| target | asked | found | met |", "| --- | --- | --- | --- |"]
    return head + [f"| {what} | {asked} | {found} | {'yes' if met else 'NO'} |" for what, asked, found, met in rows]


@dataclass(frozen=True, slots=True)
class Decile:
    """Cases whose chance to finish inside the cap was said to be in one tenth: how many, said and seen on average."""

    number: int
    cases: int
    said: float
    seen: float

    @property
    def off(self) -> float:
        """Said less seen, in percentage points."""
        return 100 * (self.said - self.seen)


def of(cases: Sequence[Case], *, kind: str | None = None, part: float | None = None) -> list[Case]:
    """The cases of one generator, of one moment, or of both."""
    return [case for case in cases if kind in (None, case.kind) and part in (None, case.part)]


def coverage(cases: Sequence[Case], level: int) -> float:
    """The share of finishes inside the central interval of a level in per cent."""
    return float(np.mean([case.covered(*CENTRAL[level]) for case in cases if case.finished]))


def mean_crps(cases: Sequence[Case], name: str = OURS) -> float:
    """Mean CRPS of a forecaster in seconds."""
    return float(np.mean([case.crps[name] for case in cases if case.finished])) / 1000


def mean_error(cases: Sequence[Case], name: str) -> float:
    """Mean CRPS of a baseline as the single number it says, which is its absolute error, in seconds."""
    return float(np.mean([case.point_error[name] for case in cases if case.finished])) / 1000


def mean_loss(cases: Sequence[Case], name: str = OURS) -> float:
    """Mean log loss of the places, in nats."""
    return float(np.mean([case.loss[name] for case in cases]))


def below(ours: float, theirs: float) -> float:
    """How much lower in per cent."""
    return 100 * (1 - ours / theirs)


def deciles(cases: Sequence[Case]) -> list[Decile]:
    """Group by the chance said: [0, 0.1), [0.1, 0.2) … [0.9, 1]."""
    said = np.array([case.cap_chance for case in cases])
    seen = np.array([case.inside for case in cases], dtype=np.float64)
    group = np.minimum((said * 10).astype(int), 9)
    return [
        Decile(n, int((group == n).sum()), float(said[group == n].mean()), float(seen[group == n].mean()))
        for n in range(10)
        if (group == n).any()
    ]
