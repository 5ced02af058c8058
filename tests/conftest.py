"""What all tests share: the `--long` option, random cases that differ in every run, and a time limit for each test."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, settings

SLOW_MACHINE = [HealthCheck.too_slow, HealthCheck.data_too_large]
settings.register_profile("brief", max_examples=20, deadline=None, print_blob=True, suppress_health_check=SLOW_MACHINE)
settings.register_profile("long", settings.get_profile("brief"), max_examples=1000)
LONG_S = 3600
"""A test of `--long` may take this long; pyproject.toml has the limit of the others."""


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add `--long`: more seeds and all combinations."""
    parser.addoption("--long", action="store_true", help="more seeds and all combinations")


def pytest_configure(config: pytest.Config) -> None:
    """Choose how many random cases a property sees. They are fresh ones; a failure prints its case and its blob."""
    settings.load_profile("long" if config.getoption("--long") else "brief")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out the tests marked `long` unless asked for; where some run at a time, begin with the slow ones."""
    if hasattr(config, "workerinput"):
        items.sort(key=lambda item: item.get_closest_marker("slow") is None)
    if config.getoption("--long"):
        for item in items:
            item.add_marker(pytest.mark.timeout(LONG_S))
        return
    config.hook.pytest_deselected(items=[item for item in items if item.get_closest_marker("long") is not None])
    items[:] = [item for item in items if item.get_closest_marker("long") is None]
