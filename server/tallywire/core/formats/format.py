"""What a format is: a name, the way its work is counted, and everything else that is special to it.

Everything above asks a format through *facets*. A facet is a class with a method for every question of one consumer,
and its default answers suit a format with nothing special. It is defined in the package that asks: `FormatCues` and
`FormatWords` in `core.cues`, `FormatWork` in `core.made_up`,
`FormatForecast` in `core.forecast`, `FormatViews` in `core.views`, `FormatSheet` in
`core.reports`, `FormatFile` in `tallywire.formats`. A format names the facets in which it differs. So imports run one
way, and a small format is one class: how it judges a tally. One interface with all questions in it would have to know
the types of every consumer, or import them for the type checker alone.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from importlib import import_module
from typing import TypeVar

from tallywire.core.facts import Fact
from tallywire.core.formats.base import Limits, Outcome, Tally
from tallywire.core.formats.counting import counted_on
from tallywire.core.formats.teams import count_team
from tallywire.core.model.workout import Plan, Workout

F = TypeVar("F")


class Counting(ABC):
    """How work is counted and ranked: the one facet that every format has to fill.

    `one_count` says that the work is one count from the start to the end of the heat, folded fact by fact, so that
    lanes can be timed against each other at any point of it. `fastest_wins`: nobody still at work can better a time
    that the clock has passed.
    """

    one_count = True
    fastest_wins = False

    def plan(self, workout: Workout) -> Plan:
        """Give the arithmetic of the workout: by default, the rounds once."""
        return Plan(workout, laps=1)

    def tally(self, plan: Plan, facts: Sequence[Fact], *, until_ms: int) -> Tally:
        """Fold one lane's standing work facts, in order; facts after `until_ms` do not count."""
        return count_team(plan, facts, until_ms=until_ms)

    def tally_on(self, plan: Plan, tally: Tally, facts: Sequence[Fact], *, until_ms: int) -> Tally | None:
        """Give a lane's tally with further facts after its own; None where all facts must be folded again."""
        if not self.one_count or plan.workout.team is not None:
            return None
        return counted_on(plan, tally, facts, until_ms=until_ms)

    @abstractmethod
    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """Judge a tally as of now."""

    def awaits_call(self, _plan: Plan, _tally: Tally) -> bool:
        """Tell whether a judge's call may still come that changes a result: of complete work, of a declared lift."""
        return False

    def moments(self, _workout: Workout) -> Iterable[int]:
        """Give the times on the heat clock, besides the cap, at which a lane may change without a fact."""
        return ()


@dataclass(frozen=True, slots=True, eq=False)
class Format:
    """A format as it is plugged in; `name` is its name in the competition file.

    `late` has, by the name of their kind, the modules of the facets that a server does not ask: each holds a `FACET`,
    and is imported when that is first asked for.
    """

    name: str
    counting: Counting
    facets: tuple[object, ...] = ()
    late: Mapping[str, str] = field(default_factory=dict)

    def facet(self, kind: type[F]) -> F:
        """Give the format's own facet of a kind, or the one with the default answers."""
        if kind.__name__ in self.late:
            return _late(self.late[kind.__name__], kind)
        return next((each for each in self.facets if isinstance(each, kind)), None) or kind()


def _late(module: str, kind: type[F]) -> F:
    found = import_module(module).FACET
    if not isinstance(found, kind):
        raise TypeError(f"found {found!r} in {module}, expected FACET = …, a {kind.__name__}")
    return found
