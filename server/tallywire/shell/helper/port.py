"""What the helper is asked, what it answers, and how it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, Protocol

from tallywire.core.cues import CueDesk
from tallywire.core.facts import Fact
from tallywire.core.model.competition import Competition
from tallywire.shell.forecast_log import ForecastLog

Frame = dict[str, Any]
Done = Callable[[Any], None]
Where = Literal["thread", "process"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tools:
    """What answers are made with: `log` keeps a forecast every minute of a heat, watched or not."""

    competition: Competition
    log: ForecastLog | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The name of what is asked, the heat it is of, the heat's cue desk, and whether a frame is wanted."""

    what: str
    heat: str
    desk: CueDesk = field(default_factory=CueDesk)
    wanted: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked, at a wall time and the time that facts tell then."""

    asked: Asked
    unix_ms: int
    recorded_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The desk after it has listened, and the frame if one was wanted."""

    desk: CueDesk
    frame: Frame | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """How the helper is.

    `state` is `working`, `starting`, `away` (its process ended and is not back), or `resting` while nobody has asked.
    `pid` is its process, None for a thread. `ended` counts processes that ended, by why: `died`, `hung` or `failed`;
    the last of them did `ended_s` ago, None before the first.
    """

    where: Where
    state: Literal["resting", "starting", "working", "away"] = "working"
    pid: int | None = None
    ended: Counter[str] = field(default_factory=Counter)
    ended_s: float | None = None


class Helper(Protocol):
    """Answers from everything that is in the books when it comes to a question."""

    def ask(self, make: Callable[[], Asked | None], done: Done) -> None:
        """Ask. `make` is called when the question's turn comes, and gives None when nobody wants to know any more.

        `done` is called with the answer; with None where there is none.
        """
        ...

    def take(self, facts: Sequence[Fact]) -> None:
        """Hear of facts that are in the books now."""
        ...

    def begin_anew(self) -> None:
        """Hear that the books were filled anew."""
        ...

    def condition(self) -> Condition:
        """Say how it is."""
        ...

    def close(self) -> None:
        """Take no more questions."""
        ...
