"""Which tests run which blocks, and how long each takes: a pytest plugin for the run with the instrumented copy."""

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
    _TESTS[item.nodeid] = {"s": 0.0, "passed": True}
    result = yield
    _TESTS[item.nodeid]["blocks"] = sorted(RUN)
    return result


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Add up how long a test took, and leave out of the map one that does not pass without any change."""
    _TESTS[report.nodeid]["s"] += report.duration
    _TESTS[report.nodeid]["passed"] &= report.passed


def pytest_sessionfinish() -> None:
    """Write the map."""
    kept = {name: test for name, test in _TESTS.items() if test.pop("passed")}
    Path(os.environ["REACH_MAP"]).write_text(json.dumps(kept), encoding="utf-8")
