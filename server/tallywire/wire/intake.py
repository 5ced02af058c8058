"""One message of facts against what is known of its sender: what is new, what was sent before, what is refused."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import orjson

from tallywire.core.errors import BadMessage, FactRefused, NotAllowed, SequenceGap, TallywireError
from tallywire.core.facts import Fact, FactVoided, RundownEdited, ViewTaken
from tallywire.core.model.competition import Competition
from tallywire.wire.fact_lines import fact_line, read_fact
from tallywire.wire.links import kept_body, kept_refusal
from tallywire.wire.messages import too_deep
from tallywire.wire.problems import shown
from tallywire.wire.rules import Sender, check
from tallywire.wire.senders import Received, Senders


def as_it_is(fact: Fact) -> Fact:
    """Give a fact as it was sent: live the journal keeps the time that everybody keeps."""
    return fact


@dataclass(slots=True, kw_only=True)
class Batch:
    """What became of a message's facts.

    `entries` are to be written in this order, `sequences` are the numbers the answer speaks of (repeats too),
    `clashes` name repeats that hold another fact than the one written, `gap` says where reading stopped. `overrun` is
    true when it stopped at a fact to be refused beyond what is kept of such. `unreadable` counts facts that could not
    be read, repeats too. `heat` is the heat of the last readable fact.
    """

    sender: Sender
    entries: list[Received] = field(default_factory=list)
    sequences: list[int] = field(default_factory=list)
    clashes: list[dict[str, Any]] = field(default_factory=list)
    gap: SequenceGap | None = None
    overrun: bool = False
    unreadable: int = 0
    heat: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Item:
    sequence: int
    body: bytes
    fact: Fact | None = None
    error: TallywireError | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """What facts are held against: what is known of senders, the competition, and what stands in the way just now.

    That is what a view or a change of a rundown lacks (`lacking`), and why no lane may count in a heat (`closed`).
    `may_refuse` is asked once for each fact that would be written as refused. `timed` gives a fact with its wall time
    as the journal tells time.
    """

    senders: Senders
    competition: Competition
    lacking: Callable[[ViewTaken | RundownEdited], str | None] = lambda _fact: None
    may_refuse: Callable[[], bool] = lambda: True
    closed: Callable[[str], str | None] = lambda _heat: None
    timed: Callable[[Fact], Fact] = as_it_is


def take(items: Sequence[object], *, sender: Sender, rules: Rules) -> Batch:
    """Sort a message's facts and note the new ones as taken.

    Raises BadMessage, with nothing taken, when one of them is so broken that not even its sequence can be read.
    """
    read = [_read(item, index, rules.timed) for index, item in enumerate(items)]
    batch, senders = Batch(sender=sender, unreadable=sum(item.fact is None for item in read)), rules.senders
    for item in read:
        if item.fact is not None:
            batch.heat = item.fact.heat
        expected = senders.taken(sender.name) + 1
        if item.sequence > expected:
            batch.gap = SequenceGap(expected=expected, found=item.sequence)
            break
        if item.sequence == expected and not _take_new(item, batch, rules):
            batch.overrun = True
            break
        batch.sequences.append(item.sequence)
        if item.sequence < expected and _clashes(item, sender, senders):
            batch.clashes.append(_clash(item))
    return batch


def _take_new(item: _Item, batch: Batch, rules: Rules) -> bool:
    entry = _entry(item, batch.sender, rules)
    if entry.refusal is not None and not rules.may_refuse():
        return False
    rules.senders.take(entry)
    batch.entries.append(entry)
    return True


def _read(item: object, index: int, timed: Callable[[Fact], Fact]) -> _Item:
    sequence = _sequence(item, index)
    try:
        fact = timed(read_fact(item))
        return _Item(sequence=sequence, body=fact_line(fact), fact=fact)
    except BadMessage as exc:
        return _Item(sequence=sequence, body=_raw(item), error=exc)
    except RecursionError as exc:
        raise too_deep() from exc


def _sequence(item: object, index: int) -> int:
    found = item.get("sequence") if isinstance(item, dict) else None
    # bool is an int to Python.
    if type(found) is not int or not 1 <= found < 2**53:
        raise BadMessage(f"found {shown(found)}, expected a whole number from 1", path=f"facts[{index + 1}].sequence")
    return found


def _raw(item: object) -> bytes:
    try:
        return orjson.dumps(item)
    except orjson.JSONEncodeError as exc:
        raise too_deep() from exc


def _entry(item: _Item, sender: Sender, rules: Rules) -> Received:
    error = item.error
    if item.fact is not None:
        error = _objection(item.fact, sender, rules)
    if error is None:
        return Received(sender=sender.name, sequence=item.sequence, body=item.body, fact=item.fact)
    refusal = kept_refusal(error)
    return Received(sender=sender.name, sequence=item.sequence, body=kept_body(item.body), refusal=refusal)


def _objection(fact: Fact, sender: Sender, rules: Rules) -> TallywireError | None:
    try:
        check(fact, sender, rules.competition)
        if sender.role.counts:
            _check_count(fact, sender, rules)
        if sender.role.voids_own and isinstance(fact, FactVoided):
            _check_void(fact, sender, rules)
        lacking = rules.lacking(fact) if isinstance(fact, ViewTaken | RundownEdited) else None
        if lacking is not None:
            raise FactRefused(lacking)
        owner = rules.senders.owner(fact.id)
        if owner is not None:
            raise FactRefused(f'found id "{fact.id}" of fact {owner[1]} of "{owner[0]}", expected an id of its own')
    except (NotAllowed, FactRefused) as exc:
        return exc
    return None


def _check_count(fact: Fact, sender: Sender, rules: Rules) -> None:
    """Whoever counts does so in a heat that was called or runs.

    What a sender counted in time may come late, after the signature too: then the result shows that it changed.
    """
    senders = rules.senders
    closed = rules.closed(fact.heat)
    if closed is not None and not senders.is_opening(fact.heat) and not senders.has_counted(sender.name, fact.heat):
        raise FactRefused(closed)


def _check_void(fact: FactVoided, sender: Sender, rules: Rules) -> None:
    """Whoever may void its own facts alone takes back nobody else's work."""
    owner = rules.senders.owner(fact.voids)
    if owner is None or owner[0] != sender.name:
        whose = "nobody's" if owner is None else f'of "{owner[0]}"'
        raise NotAllowed(f'found fact "{fact.voids}" {whose}, expected one that "{sender.name}" sent')


def _clashes(item: _Item, sender: Sender, senders: Senders) -> bool:
    """Tell whether a repeat brings another fact than the one that was accepted under its number."""
    if item.fact is None or senders.is_refused(sender.name, item.sequence):
        return False
    return senders.owner(item.fact.id) != (sender.name, item.sequence)


def _clash(item: _Item) -> dict[str, Any]:
    error = FactRefused(
        f"found another fact under sequence {item.sequence}, expected the one sent before: "
        "two devices may use one sender name"
    )
    return {"sequence": item.sequence, **error.as_data()}
