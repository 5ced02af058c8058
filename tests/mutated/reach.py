"""Which tests run which blocks, and how much processor time each takes: a pytest plugin for the instrumented copy."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

RUN: set[tuple[str, int]] = set()
"""The blocks that were run since the test began."""
_TESTS: dict[str, dict[str, Any]] = {}


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Keep the blocks of each test with its set-up, so that a shared fixture is charged to its first test only."""
    RUN.clear()
    begun_s = _spent_s()
    _TESTS[item.nodeid] = {"passed": True}
    result = yield
    _TESTS[item.nodeid] |= {"blocks": sorted(RUN), "s": round(_spent_s() - begun_s, 3)}
    return result


def _spent_s() -> float:
    """The processor time of this process and those it has ended: how busy the machine is must not choose the tests."""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Leave out of the map a test that does not pass without any change."""
    _TESTS[report.nodeid]["passed"] &= report.passed


def pytest_sessionfinish() -> None:
    """Write the map."""
    kept = {name: test for name, test in _TESTS.items() if test.pop("passed")}
    Path(os.environ["REACH_MAP"]).write_text(json.dumps(kept), encoding="utf-8")
