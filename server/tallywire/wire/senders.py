"""How far each sender is. Kept for the whole server: a sender may come back on another connection, or be on two."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from operator import attrgetter
from typing import Any

import orjson

from tallywire.core.facts import Fact, HeatCalled, HeatStarted, LaneFact

_ID, _OF_WHERE = attrgetter("id"), attrgetter("sender", "heat")


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """One fact on its way into the journal: `fact` when it is taken, `refusal` (JSON) when it is refused."""

    sender: str
    sequence: int
    body: bytes
    fact: Fact | None = None
    refusal: bytes | None = None


@dataclass(slots=True)
class Progress:
    """One sender: `taken` is the highest number accepted for writing, `durable` the highest one on disk."""

    taken: int = 0
    durable: int = 0
    refusals: dict[int, dict[str, Any]] = field(default_factory=dict)


class Senders:
    """The progress of every sender, and which fact ids are used up by whom."""

    def __init__(self) -> None:
        self._progress: dict[str, Progress] = {}
        self._ids: dict[str, Fact] = {}
        self._opening: dict[str, tuple[str, int]] = {}
        self._counted: set[tuple[str, str]] = set()

    def watermark(self, sender: str) -> int:
        """Give the highest number of this sender that is on disk."""
        known = self._progress.get(sender)
        return 0 if known is None else known.durable

    def taken(self, sender: str) -> int:
        """Give the highest number of this sender that is on disk or on its way."""
        known = self._progress.get(sender)
        return 0 if known is None else known.taken

    def owner(self, fact_id: str) -> tuple[str, int] | None:
        """Give the sender and number of the accepted fact with this id, None while the id is free."""
        fact = self._ids.get(fact_id)
        return None if fact is None else (fact.sender, fact.sequence)

    def take(self, entry: Received) -> None:
        """Note an entry that goes into the journal now: the sender's next number is above it."""
        progress = self._progress.setdefault(entry.sender, Progress())
        progress.taken = max(progress.taken, entry.sequence)
        if entry.refusal is not None:
            progress.refusals[entry.sequence] = orjson.loads(entry.refusal)
        if entry.fact is not None:
            self._note(entry.sender, entry.sequence, entry.fact)

    def _note(self, sender: str, sequence: int, fact: Fact) -> None:
        self._ids[fact.id] = fact
        if isinstance(fact, LaneFact):
            self._counted.add((sender, fact.heat))
        elif isinstance(fact, HeatCalled | HeatStarted):
            self._opening[fact.heat] = (sender, sequence)

    def has_counted(self, sender: str, heat: str) -> bool:
        """Tell whether a fact of this sender about a lane of the heat was taken."""
        return (sender, heat) in self._counted

    def is_opening(self, heat: str) -> bool:
        """Tell whether a call or a start of the heat is on its way to disk: a tap may follow on its heels."""
        sender, sequence = self._opening.get(heat, ("", 0))
        return sequence > self.watermark(sender)

    def settle(self, sender: str, sequence: int) -> None:
        """Note that the sender's facts up to this number are on disk."""
        progress = self._progress[sender]
        progress.durable = max(progress.durable, sequence)

    def restore(self, entry: Received) -> None:
        """Note an entry found in the journal at the start."""
        self.take(entry)
        self.settle(entry.sender, entry.sequence)

    def restore_facts(self, facts: Sequence[Fact]) -> None:
        """Note accepted facts found in a journal, in any order: what `restore` does, but for very many at once."""
        self._ids.update(zip(map(_ID, facts), facts, strict=True))
        kinds = set(map(type, facts))
        counts = {kind for kind in kinds if issubclass(kind, LaneFact)}
        opens = {kind for kind in kinds if issubclass(kind, HeatCalled | HeatStarted)}
        self._counted.update(map(_OF_WHERE, [fact for fact in facts if type(fact) in counts]))
        for fact in [fact for fact in facts if type(fact) in opens]:
            self._opening[fact.heat] = (fact.sender, fact.sequence)
        for sender, sequence in _highest(facts).items():
            progress = self._progress.setdefault(sender, Progress())
            progress.taken = max(progress.taken, sequence)
            self.settle(sender, sequence)

    def is_refused(self, sender: str, sequence: int) -> bool:
        """Tell whether this number was refused."""
        known = self._progress.get(sender)
        return known is not None and sequence in known.refusals

    def refusals(self, sender: str, sequences: Iterator[int]) -> list[dict[str, Any]]:
        """Give those of these numbers that were refused, each with its code and message."""
        known = self._progress.get(sender, Progress()).refusals
        return [{"sequence": number, **known[number]} for number in sequences if number in known]


def _highest(facts: Iterable[Fact]) -> dict[str, int]:
    """The highest number of each sender."""
    found: dict[str, int] = {}
    for fact in facts:
        if fact.sequence > found.get(fact.sender, 0):
            found[fact.sender] = fact.sequence
    return found
