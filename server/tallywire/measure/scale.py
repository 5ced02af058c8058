"""How much trouble a measure takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """`quick` shows that everything works, and its figures mean little; `long` takes the minutes that some need."""

    quick: bool = False
    long: bool = False

    @property
    def repeats(self) -> int:
        """How often each way is measured."""
        return 1 if self.quick else 5

    def sized(self, usual: T, *, quick: T) -> T:
        """Give the usual size of something, or the quick one."""
        return quick if self.quick else usual
