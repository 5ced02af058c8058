"""Every measure: its name, the module that takes it, what it is about."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from importlib import import_module
from typing import cast

from tallywire.core.errors import TallywireError
from tallywire.measure.figures import FigureTable
from tallywire.measure.scale import Scale


@dataclass(frozen=True, slots=True)
class Listed:
    """A measure: `tallywire.measure.<name>` has a function `measure`. `about_s` is how long it takes idle."""

    name: str
    says: str
    about_s: int

    def take(self, scale: Scale) -> list[FigureTable]:
        """Measure."""
        module = import_module(f"tallywire.measure.{self.name}")
        return list(cast(Callable[[Scale], Iterable[FigureTable]], module.measure)(scale))


MEASURES: tuple[Listed, ...] = (
    Listed("fold", "a fact into the books, in order and behind others", 10),
    Listed("tap", "a tap's stages on the event loop, and what makes it dearer", 60),
    Listed("profile", "where a tap's time goes, with a picture", 10),
    Listed("fanout", "a tap to everybody, beside other ways of telling them", 90),
    Listed("clients", "how that grows with clients, and how many one machine holds", 150),
    Listed("acks", "how long a fact waits for its answer while everything is watched", 150),
    Listed("stuck", "two of a hundred who never read", 100),
    Listed("call", "the forecast and the whole call of twenty lanes", 15),
    Listed("outlets", "pollers and event streams", 130),
    Listed("paint", "an on-air picture in a browser, where there is one", 25),
    Listed("frames", "the bytes of a tap's message and of a whole picture", 10),
    Listed("start", "from the command to serving", 10),
    Listed("rebuild", "the books again from a journal, and the memory of a fact", 40),
)


def chosen(names: Sequence[str]) -> list[Listed]:
    """Give the measures of these names, all without any. Raises TallywireError for a name that there is not."""
    known = {each.name: each for each in MEASURES}
    unknown = [name for name in names if name not in known]
    if unknown:
        raise TallywireError(f"--only: found {', '.join(unknown)}, expected one of {', '.join(known)}")
    return [known[name] for name in names] or list(MEASURES)
