"""A cue: one short fact worth saying now, with the numbers it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

Value = str | int


class Kind(StrEnum):
    """What changed in the story."""

    CLINCHED = "clinched"
    FINISH = "finish"
    OVERALL_LEAD = "overall_lead"
    LEAD = "lead"
    LAST_LEFT = "last_left"
    WITHDRAWAL = "withdrawal"
    TIME_UP = "time_up"
    PIECE = "piece"
    GOOD_LIFT = "good_lift"
    OUT = "out"
    MISSED_LIFT = "missed_lift"
    CATCHING = "catching"
    ON_THE_BAR = "on_the_bar"
    CAP_DANGER = "cap_danger"
    BAR_OPEN = "bar_open"
    NO_REPS = "no_reps"
    ROUND_FIRST = "round_first"
    UNBROKEN = "unbroken"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """One line for the commentator, before it is put into words.

    `template` names its wording and `values` are the numbers and names in it; times end in `_ms`. `key` is the same
    for the same fact, so that nothing is said twice; what can come again, such as a chase, tells by `since_ms` that it
    is a new one. `lanes` are all lanes it speaks of. `weight` runs to 100: how much it changes the story. It is worth
    saying from `at_ms`, on the heat clock, until `ttl_ms` later. What is `lasting` stands in the state of the heat as
    long as it is true; a correction that makes it untrue takes it off the desk.
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
    """How much is said, and when a change counts. The defaults are common practice, without a source.

    At most `a_minute` cues in any minute, `spacing_ms` apart; the last `reserved` of them are kept for cues of at
    least `urgent` weight, which may follow after `urgent_spacing_ms`. A lead counts once it was held for `holds_ms`;
    two who alternate within `alternates_ms` are said to trade it, once. `rest_ms` is how long the same chase, cap
    danger or trade is not spoken of again. While a leader has at most `run_in_reps` to go, only urgent cues come up.
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
    unbroken_least: int = 8
    bar_open_ms: int = 15_000


WEIGHTS: Mapping[Kind, int] = {
    Kind.CLINCHED: 100,
    Kind.FINISH: 90,
    Kind.OVERALL_LEAD: 85,
    Kind.LEAD: 80,
    Kind.LAST_LEFT: 78,
    Kind.WITHDRAWAL: 75,
    Kind.TIME_UP: 70,
    Kind.PIECE: 70,
    Kind.GOOD_LIFT: 65,
    Kind.OUT: 65,
    Kind.MISSED_LIFT: 62,
    Kind.CATCHING: 60,
    Kind.ON_THE_BAR: 55,
    Kind.CAP_DANGER: 50,
    Kind.BAR_OPEN: 48,
    Kind.NO_REPS: 45,
    Kind.ROUND_FIRST: 40,
    Kind.UNBROKEN: 30,
}
"""What each kind weighs for the leaders; `weighed` takes off for places further back."""

TTL_MS: Mapping[Kind, int] = {
    Kind.CLINCHED: 60_000,
    Kind.FINISH: 30_000,
    Kind.OVERALL_LEAD: 20_000,
    Kind.LEAD: 15_000,
    Kind.LAST_LEFT: 30_000,
    Kind.WITHDRAWAL: 30_000,
    Kind.TIME_UP: 30_000,
    Kind.PIECE: 20_000,
    Kind.GOOD_LIFT: 15_000,
    Kind.OUT: 20_000,
    Kind.MISSED_LIFT: 15_000,
    Kind.CATCHING: 15_000,
    Kind.ON_THE_BAR: 30_000,
    Kind.CAP_DANGER: 20_000,
    Kind.BAR_OPEN: 15_000,
    Kind.NO_REPS: 10_000,
    Kind.ROUND_FIRST: 12_000,
    Kind.UNBROKEN: 12_000,
}


def weighed(kind: Kind, behind: int = 0) -> int:
    """Give a cue's weight: three less for every place behind the first, fifteen at most."""
    return WEIGHTS[kind] - min(15, 3 * behind)
