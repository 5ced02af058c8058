"""Reading a journal on Redis without changing it, also while servers have it: all of it, or its sound lines."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from tallywire.core.errors import TallywireError
from tallywire.shell.journal.findings import ChainReader, Findings, runs_text
from tallywire.shell.journal.on_redis.client import Place, RedisClient
from tallywire.shell.journal.on_redis.follower import LINES, MARKS, NOTES, STATE, parsed
from tallywire.shell.journal.port import Line
from tallywire.shell.journal.reading import Salvage, Sound, check_none_at, write_sound
from tallywire.shell.journal.seal import Seal

_CHUNK = 2000
_TIMEOUT_S = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """What the server says beside its lines at one instant: its state, the newest line, each sender's watermark."""

    epoch: int
    last: int
    head: bytes
    newest: int
    marks: dict[str, int]
    notes: dict[str, str]


def look(place: Place) -> Findings:
    """Examine a journal as it is at this instant. Raises JournalFailed, TallywireError where there is none."""
    return _examined(place, lambda _line: None)


def sound_lines(place: Place) -> Sound:
    """Give all lines and notes of a journal as it is at this instant. Raises JournalDamaged, JournalFailed."""
    lines: list[Line] = []
    found = _examined(place, lines.append)
    found.raise_damage()
    return Sound(lines=lines, notes=found.notes)


def salvage(place: Place, target: Path) -> Salvage:
    """Write the sound lines to a new journal in a file, numbered anew. Raises JournalFailed."""
    check_none_at(target)
    lines: list[Line] = []
    return write_sound(_examined(place, lines.append), lines, target)


def _examined(place: Place, take: Callable[[Line], object]) -> Findings:
    with closing(RedisClient(replace(place, timeout_s=_TIMEOUT_S))) as client:
        said = _said(client)
        seal = Seal(serial=0, count=said.last, head=said.head, closed=False)
        found = Findings(where=str(place), named="--redis URL", epoch=said.epoch, seal=seal, notes=said.notes)
        marks = _examine_lines(client, said.newest, found, take)
    _compare_state(found, said)
    if not found.faults:
        _compare_marks(found, said.marks, marks)
    return found


def _said(client: RedisClient) -> _Said:
    # All of one instant, because a writer may go on meanwhile.
    asked = [("HMGET", STATE, "epoch", "last", "head"), ("XREVRANGE", LINES, "+", "-", "COUNT", 1)]
    *_, answers = client.ask_all([("MULTI",), *asked, ("HGETALL", MARKS), ("HGETALL", NOTES), ("EXEC",)])
    (epoch, last, head), newest, marks, notes = answers
    if epoch is None and not newest:
        raise TallywireError(f"found no journal at {client.place}, expected the Redis database of a server")
    return _Said(
        epoch=int(epoch or 0),
        last=int(last or 0),
        head=head or b"",
        newest=int(newest[0][0].partition(b"-")[0]) if newest else 0,
        marks={name: int(value) for name, value in _texts(marks)},
        notes=dict(_texts(notes)),
    )


def _texts(flat: list[bytes]) -> Iterator[tuple[str, str]]:
    texts = [each.decode(errors="replace") for each in flat]
    return zip(texts[::2], texts[1::2], strict=True)


def _examine_lines(client: RedisClient, newest: int, found: Findings, take: Callable[[Line], object]) -> dict[str, int]:
    """Follow the chain up to a line, hand on what is sound, and give each sender's highest sequence."""
    chain, marks, before = ChainReader(found), dict[str, int](), 0
    for entry in _entries(client, newest):
        line, check = _read(entry)
        epoch = int(entry[0].partition(b"-")[2])
        if epoch < before:
            found.faults.append(f"line {line.number} was written under epoch {epoch}, after one under epoch {before}")
        before = epoch
        for proven in (line,) if chain.goes_on(line, check) else chain.add(line, check):
            marks[proven.sender] = max(proven.sequence, marks.get(proven.sender, 0))
            take(proven)
    return marks


def _entries(client: RedisClient, newest: int) -> Iterator[Any]:
    start = b"-"
    while chunk := client.ask("XRANGE", LINES, start, newest, "COUNT", _CHUNK):
        yield from chunk
        start = b"(" + chunk[-1][0]


def _read(entry: Any) -> tuple[Line, bytes]:
    """Read an entry and its chain; one that cannot be read is a line that nothing proves."""
    try:
        return parsed(entry)
    except (ValueError, IndexError):
        name, fields = entry
        chain = dict(zip(fields[::2], fields[1::2], strict=False)).get(b"chain", b"")
        return Line(int(name.partition(b"-")[0]), 0, "", 0, b"", None), chain


def _compare_state(found: Findings, said: _Said) -> None:
    if found.last < said.last:
        found.missing.append(range(found.last + 1, said.last + 1))
        found.faults.append(f"{runs_text([found.missing[-1]])} missing: the state says {said.last}")
    elif found.last > said.last:
        found.faults.append(f"{runs_text([range(said.last + 1, found.last + 1)])} added: the state says {said.last}")
    elif found.last and found.head != said.head:
        found.faults.append(f"the chain up to line {said.last} is not the one that the state has")


def _compare_marks(found: Findings, kept: dict[str, int], marks: dict[str, int]) -> None:
    for sender in sorted(kept.keys() | marks.keys()):
        if kept.get(sender) != marks.get(sender):
            found.faults.append(
                f'the watermark of sender "{sender}" is {kept.get(sender)}, its lines say {marks.get(sender)}'
            )
