"""What a command does where the forecast fails: it goes on without, as a live call does, and says so."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


class GoesOnWithout:
    """Forecasts of one heat for a page or a list; the first failure is told on standard error."""

    def __init__(self, what: str, heat: str) -> None:
        self._what, self._heat = what, heat
        self._told = False

    def __call__(self, ask: Callable[[], T], /) -> T | None:
        """Give the answer; None where it failed."""
        try:
            return ask()
        except Exception as exc:
            # At the edge of the forecast: whatever is wrong in it, what was counted is still worth telling.
            self._tell(exc)
            return None

    def _tell(self, exc: Exception) -> None:
        if not self._told:
            self._told = True
            why = f"{type(exc).__name__}: {exc}"
            print(f"tallywire: the {self._what} of heat {self._heat} go on without a forecast ({why})", file=sys.stderr)
