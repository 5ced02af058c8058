"""The booth of a heat: what spotters told the commentators, and what those pinned or dismissed.

Like the books of the heats, it depends only on the set of facts, never on the order in which they arrived. A note that
was voided was never sent. Nothing here touches a count.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from tallywire.core.facts import BoothFact, FactVoided, NoteMarked, NoteSent
from tallywire.core.facts.ledger import Ledger


class BoothMark(StrEnum):
    """How a note or a fact of the file stands in the booth, for all commentators alike."""

    OPEN = "open"
    PINNED = "pinned"
    DISMISSED = "dismissed"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoothState:
    """The notes that stand, the oldest first, and the newest mark of each item that has one."""

    notes: tuple[NoteSent, ...] = ()
    marks: Mapping[str, BoothMark] = field(default_factory=dict)

    def mark_of(self, item: str) -> BoothMark:
        """Give how an item stands: the id of a note, or what names a fact of the file."""
        return self.marks.get(item, BoothMark.OPEN)


NOTHING = BoothState()
"""A booth in which nobody has said anything yet."""


class Booth:
    """The facts for the booth, heat by heat, each id once, and what they fold into."""

    def __init__(self) -> None:
        self._ledgers: defaultdict[str, Ledger] = defaultdict(Ledger)
        self._lanes: defaultdict[str, set[int | None]] = defaultdict(set)
        self._changed: set[str] = set()
        self._states: Mapping[str, BoothState] = {}

    def add(self, fact: BoothFact | FactVoided) -> None:
        """Take a fact. Of two with one id, the one that comes first in the order counts."""
        self._ledgers[fact.heat].add(fact)
        self._lanes[fact.heat].add(fact.lane)
        self._changed.add(fact.heat)

    def states(self) -> Mapping[str, BoothState]:
        """Give the booth of each heat that has one, by the heat's id. What was given once never changes."""
        if self._changed:
            folded = {heat: _folded(self._ledgers[heat], self._lanes[heat]) for heat in self._changed}
            self._states = {**self._states, **folded}
            self._changed.clear()
        return self._states


def _folded(ledger: Ledger, lanes: set[int | None]) -> BoothState:
    standing = sorted((fact for lane in lanes for fact in ledger.standing(lane)), key=lambda fact: fact.order)
    return BoothState(
        notes=tuple(fact for fact in standing if isinstance(fact, NoteSent)),
        marks={fact.item: BoothMark(fact.mark) for fact in standing if isinstance(fact, NoteMarked)},
    )
