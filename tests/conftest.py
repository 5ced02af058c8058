"""What all tests share: the `--long` option."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile("brief", max_examples=20, derandomize=True, deadline=None)
settings.register_profile(
    "long", max_examples=1000, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add `--long`: more seeds and all combinations."""
    parser.addoption("--long", action="store_true", help="more seeds and all combinations")


def pytest_configure(config: pytest.Config) -> None:
    """Choose how many random cases a property sees."""
    settings.load_profile("long" if config.getoption("--long") else "brief")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out the tests marked `long` unless asked for; where some run at a time, begin with the slow ones."""
    if hasattr(config, "workerinput"):
        items.sort(key=lambda item: item.get_closest_marker("slow") is None)
    if config.getoption("--long"):
        return
    config.hook.pytest_deselected(items=[item for item in items if item.get_closest_marker("long") is not None])
    items[:] = [item for item in items if item.get_closest_marker("long") is None]
