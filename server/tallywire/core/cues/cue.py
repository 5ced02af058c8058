"""A cue: one short fact worth saying now, with the numbers it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

Value = str | int | float


@dataclass(frozen=True)
class Kind:
    """What changed in the story: `weight` is how much that is for the leaders, `ttl_ms` how long it is worth saying.

    The kinds listed here belong to every format; a format's own kinds are in its package.
    """

    value: str
    weight: int
    ttl_ms: int

    CLINCHED: ClassVar[Kind]
    FINISH: ClassVar[Kind]
    OVERALL_LEAD: ClassVar[Kind]
    LEAD: ClassVar[Kind]
    WITHDRAWAL: ClassVar[Kind]
    TIME_UP: ClassVar[Kind]
    CATCHING: ClassVar[Kind]
    CAP_DANGER: ClassVar[Kind]
    NO_REPS: ClassVar[Kind]
    ROUND_FIRST: ClassVar[Kind]
    UNBROKEN: ClassVar[Kind]

    def __str__(self) -> str:
        return self.value


Kind.CLINCHED = Kind("clinched", weight=100, ttl_ms=60_000)
Kind.FINISH = Kind("finish", weight=90, ttl_ms=30_000)
Kind.OVERALL_LEAD = Kind("overall_lead", weight=85, ttl_ms=20_000)
Kind.LEAD = Kind("lead", weight=80, ttl_ms=15_000)
Kind.WITHDRAWAL = Kind("withdrawal", weight=75, ttl_ms=30_000)
Kind.TIME_UP = Kind("time_up", weight=70, ttl_ms=30_000)
Kind.CATCHING = Kind("catching", weight=60, ttl_ms=15_000)
Kind.CAP_DANGER = Kind("cap_danger", weight=50, ttl_ms=20_000)
Kind.NO_REPS = Kind("no_reps", weight=45, ttl_ms=10_000)
Kind.ROUND_FIRST = Kind("round_first", weight=40, ttl_ms=12_000)
Kind.UNBROKEN = Kind("unbroken", weight=30, ttl_ms=12_000)

KINDS = (
    Kind.CLINCHED,
    Kind.FINISH,
    Kind.OVERALL_LEAD,
    Kind.LEAD,
    Kind.WITHDRAWAL,
    Kind.TIME_UP,
    Kind.CATCHING,
    Kind.CAP_DANGER,
    Kind.NO_REPS,
    Kind.ROUND_FIRST,
    Kind.UNBROKEN,
)
"""The kinds that every format has."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """One line for the commentator, before it is put into words.

    `template` names its wording and `values` are the numbers and names in it; times end in `_ms`. `key` is the same for
    the same fact, so that nothing is said twice. For what can happen again, such as a chase, `since_ms` shows that it
    is a new one. `lanes` are all lanes it speaks of. `weight` runs to 100: how much it changes the story. It is worth
    saying from `at_ms`, on the heat clock, until `ttl_ms` later. A cue that is `lasting` can be read from the state of
    the heat as long as it is true; a correction that makes it untrue takes it off the desk.
    """

    kind: Kind
    template: str
    key: str
    lanes: tuple[int, ...]
    values: Mapping[str, Value]
    weight: int
    at_ms: int
    ttl_ms: int
    since_ms: int = 0
    lasting: bool = False

    @property
    def until_ms(self) -> int:
        """When it is no longer worth saying."""
        return self.at_ms + self.ttl_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class CueRules:
    """How many cues are given, and when a change counts. The defaults are common practice, without a source.

    At most `a_minute` cues in any minute, `spacing_ms` apart; the last `reserved` of them are kept for cues of at
    least `urgent` weight, which may follow after `urgent_spacing_ms`. A lead counts once it has been held for
    `holds_ms`; of two entries that alternate within `alternates_ms` it is said, once, that they trade it. `rest_ms` is
    how long the same chase, cap danger or trade is not spoken of again. While a leader has at most `run_in_reps` to go,
    only urgent cues come up. `forecast_every_ms` is how old the forecast behind a cap danger may be.
    """

    a_minute: int = 6
    reserved: int = 2
    urgent: int = 70
    spacing_ms: int = 5_000
    urgent_spacing_ms: int = 2_000
    holds_ms: int = 4_000
    alternates_ms: int = 60_000
    rest_ms: int = 90_000
    finish_settles_ms: int = 1_500
    chase_within_ms: int = 20_000
    chase_cut_ms: int = 3_000
    catch_within_ms: int = 150_000
    cap_margin_ms: int = 8_000
    cap_reach_ms: int = 60_000
    run_in_reps: int = 5
    no_reps: int = 3
    no_reps_within_ms: int = 30_000
    forecast_every_ms: int = 5_000
    unbroken_least: int = 8


def weighed(kind: Kind, behind: int = 0) -> int:
    """Give a cue's weight: three less for every place behind the first, fifteen at most."""
    return kind.weight - min(15, 3 * behind)
