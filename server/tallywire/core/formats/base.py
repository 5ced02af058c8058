"""What counting works with in every format: tallies, the limits of a result, and what a tally is worth."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

NEVER_MS = 2**62
"""In a sort key it stands for a time that has not come."""


def reps_text(reps: int) -> str:
    """Write an amount of scored reps as it is announced: "1 rep", "12 reps"."""
    return f"{reps} rep" if reps == 1 else f"{reps} reps"


class Status(StrEnum):
    """The status of a lane."""

    READY = "ready"
    WORKING = "working"
    FINISHED = "finished"
    CAPPED = "capped"
    TIMED = "timed"
    WITHDRAWN = "withdrawn"
    DID_NOT_START = "did_not_start"
    DISQUALIFIED = "disqualified"

    @property
    def has_result(self) -> bool:
        """Whether it has a result; the others are placed after all who have one, without points."""
        # Asked for every lane at every tap: by identity, since a look in a tuple compares text.
        return self is not Status.WITHDRAWN and self is not Status.DID_NOT_START and self is not Status.DISQUALIFIED


@dataclass(slots=True)
class Tally:
    """What one lane did, from its work facts alone.

    `done` counts units, `trail` holds (at_ms, done) whenever the count went up, rising in both. `reached_ms` is when
    the present count was reached, `counted_ms` when the last repetition or block was counted by a judge, `no_reps_ms`
    when each no-rep was called.
    `remarks` name what the table should look at. Teams have the units done by each of the `members` and the `member`
    whose turn it is. A format that has to know more makes a tally of its own kind.
    """

    done: int = 0
    reached_ms: int = 0
    counted_ms: int = 0
    trail: list[tuple[int, int]] = field(default_factory=list)
    no_reps_ms: list[int] = field(default_factory=list)
    finish_calls_ms: list[int] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    member: int = 1
    members: dict[int, int] = field(default_factory=dict)

    @property
    def no_reps(self) -> int:
        """How many no-reps were called, and lifts failed."""
        return len(self.no_reps_ms)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What bounds a result.

    `until_ms` is the time cap or the moment the heat was ended, `over` says that it has passed; `clock_ms` is the last
    of the heat's moments that has passed. Between two moments a lane is not judged again, so a format with windows
    names their ends among its moments and asks only whether they are `past`. Penalties are those the head judge gave
    the lane: repetitions taken from the count, milliseconds added to the time.
    """

    until_ms: int
    over: bool
    started: bool
    clock_ms: int = 0
    penalty_reps: int = 0
    penalty_ms: int = 0

    def past(self, at_ms: int) -> bool:
        """Tell whether a moment of the heat clock has come, or never will because the heat is over."""
        return self.over or (self.started and self.clock_ms >= at_ms)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a tally is worth now.

    `key` sorts: smaller is better, equal keys tie. `result` is as announced. `score` is what gaps are measured in:
    more is better; in counting formats it is the scored reps. `reps_to_go` is None where there is no fixed work.
    """

    status: Status
    key: tuple[int, ...]
    result: str
    score: int
    scored_reps: int
    reps_to_go: int | None = None
    result_ms: int | None = None


def open_status(limits: Limits, at_end: Status) -> Status:
    """Give the status of a lane that has not finished; it is `at_end` once the time is over."""
    if limits.over:
        return at_end
    return Status.WORKING if limits.started else Status.READY
