"""The forecast makes sense of rehearsals: the program's own made-up heats in the worlds that the trial knows."""

from __future__ import annotations

import pytest

from forecast.presets import made_by_program
from forecast.test_calibration import between, held
from forecast.trial import try_heat, usual_errors
from forecast.worlds import KINDS


@pytest.mark.slow
def test_the_80_percent_interval_holds_in_made_up_heats(request: pytest.FixtureRequest) -> None:
    """Over all worlds 74–84 % of the finishes lie in it, two standard errors allowed, and 66–90 % in each.

    docs/forecast-model.md says what was found; six heats of each world, sixty with `--long`.
    """
    many = 60 if request.config.getoption("--long") else 6
    errors = usual_errors(KINDS, range(90_000, 90_002))
    cases = [
        case
        for kind in KINDS
        for seed in range(5000, 5000 + many)
        for case in try_heat(made_by_program(kind, seed), seed, errors, draws=400)
    ]
    assert between(held(cases), 74, 84)
    for kind in KINDS:
        assert between(held([case for case in cases if case.kind == kind]), 66, 90), kind
