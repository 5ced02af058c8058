"""The show: what is on programme on each output, since when, and how far behind it is.

Like the books of the heats, it depends only on the set of facts, never on the order in which they arrived. Facts of the
show cannot be voided: what was on the air cannot be taken back.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from tallywire.core.facts import AutomaticSet, DelaySet, RundownEdited, ShowFact, ViewCleared, ViewTaken
from tallywire.core.model.outputs import Output, item_of, rundown_digest


class Automatic(StrEnum):
    """What the desk does by rule on an output."""

    OFF = "off"
    PROPOSE = "propose"
    TAKE = "take"


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputState:
    """One output as of the newest fact, with its rundown as it was edited. `programme` is None while it is clear.

    `changed` is the newest take or clear; `automatic_by` is the sender that works the automatic mode, None when off.
    `edits` is the number of the last change of its rundown that anybody sent, 0 without one.
    """

    output: Output
    delay_ms: int
    programme: ViewTaken | None = None
    changed: ViewTaken | ViewCleared | None = None
    automatic: Automatic = Automatic.OFF
    automatic_by: str | None = None
    edits: int = 0


class ShowBook:
    """The facts of the show, each id once, and what they fold into."""

    def __init__(self, outputs: Mapping[str, Output], facts: Iterable[ShowFact] = ()) -> None:
        self._outputs = outputs
        self._by_id: dict[str, ShowFact] = {}
        self._folded: dict[str, OutputState] | None = None
        for fact in facts:
            self.add(fact)

    def add(self, fact: ShowFact) -> None:
        """Take a fact. Of two with one id, the one that comes first in the order counts."""
        known = self._by_id.get(fact.id)
        if known is None or fact.order < known.order:
            self._by_id[fact.id] = fact
            self._folded = None

    def outputs(self) -> Mapping[str, OutputState]:
        """Give every output's state, in the order of the file. Facts of unknown outputs are passed over."""
        if self._folded is None:
            states = {name: OutputState(output=each, delay_ms=each.delay_ms) for name, each in self._outputs.items()}
            for fact in sorted(self._by_id.values(), key=_turn):
                if fact.output in states:
                    states[fact.output] = _after(states[fact.output], fact)
            self._folded = states
        return self._folded


def _turn(fact: ShowFact) -> tuple[int, tuple[int, str, int]]:
    """Changes of a rundown come by their number: two desks may have clocks that differ by more than they are apart."""
    return (fact.edit if isinstance(fact, RundownEdited) else 0, fact.order)


def _after(state: OutputState, fact: ShowFact) -> OutputState:
    match fact:
        case ViewTaken():
            return replace(state, programme=fact, changed=fact)
        case ViewCleared():
            return replace(state, programme=None, changed=fact)
        case DelaySet():
            return replace(state, delay_ms=fact.delay_ms)
        case AutomaticSet():
            mode = Automatic(fact.automatic)
            return replace(state, automatic=mode, automatic_by=None if mode is Automatic.OFF else fact.sender)
        case RundownEdited():
            return _edited(state, fact)
    raise TypeError(f"found {type(fact).__name__}, expected a fact of the show")


def _edited(state: OutputState, fact: RundownEdited) -> OutputState:
    """A rundown is changed only from what it was when somebody changed it.

    So changes that came second, or that a newer file has already, change nothing. A file that has the rundown as it was
    at any time, saved in between, leads to the same one: from where it joins, the changes are those that were made.
    """
    rundown, first = state.output.rundown, fact.line - 1
    if fact.before != rundown_digest(rundown):
        return replace(state, edits=fact.edit)
    added = tuple(item_of(each) for each in fact.added)
    after = (*rundown[:first], *added, *rundown[first + fact.gone :])
    return replace(state, output=replace(state.output, rundown=after), edits=fact.edit)
