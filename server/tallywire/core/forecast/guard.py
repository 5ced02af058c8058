"""How what is worked out from a recording asks for a forecast: whoever calls decides what comes of one that fails."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, TypeVar

T = TypeVar("T")


class Guard(Protocol):
    """Runs something that forecasts, and gives its answer; None where it failed and the rest goes on without it."""

    def __call__(self, ask: Callable[[], T], /) -> T | None:
        """Ask."""


def unguarded(ask: Callable[[], T], /) -> T:
    """Ask, and let an error out."""
    return ask()
