"""Reading a journal without writing to it: all of it, or the sound lines of a damaged one."""

from __future__ import annotations

import asyncio
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from tallywire.core.errors import JournalFailed
from tallywire.shell.journal.examine import UNREADABLE, examine
from tallywire.shell.journal.findings import Findings
from tallywire.shell.journal.lock import hold_lock
from tallywire.shell.journal.port import Draft, Line, line_of
from tallywire.shell.journal.sqlite import SqliteJournal


@dataclass(frozen=True, slots=True, kw_only=True)
class Salvage:
    """What was found, how many lines were written, and which numbers of which sender are missing among them."""

    found: Findings
    written: int
    gaps: Mapping[str, Sequence[int]]


def look(path: Path) -> Findings:
    """Examine the journal at `path` while nobody else has it. Raises JournalFailed."""
    with hold_lock(path):
        return _examined(path, [])


@dataclass(frozen=True, slots=True, kw_only=True)
class Sound:
    """The lines and notes of a journal without damage."""

    lines: list[Line]
    notes: Mapping[str, str]


def sound_lines(path: Path) -> Sound:
    """Read the journal at `path` without changing it. Raises JournalDamaged, or JournalFailed when it is in use."""
    lines: list[Line] = []
    with hold_lock(path):
        found = _examined(path, lines)
    found.raise_damage()
    return Sound(lines=lines, notes=found.notes)


def salvage(path: Path, target: Path) -> Salvage:
    """Write the sound lines of the journal at `path` to a new one at `target`, numbered anew. Raises JournalFailed."""
    lines: list[Line] = []
    with hold_lock(path):
        check_none_at(target)
        found = _examined(path, lines)
    return write_sound(found, lines, target)


def check_none_at(target: Path) -> None:
    """Raise JournalFailed where there is a journal already."""
    if target.exists():
        raise JournalFailed(f"found a journal at {target}, expected none there: choose a new folder")


def write_sound(found: Findings, lines: Sequence[Line], target: Path) -> Salvage:
    """Write sound lines to a new journal, numbered anew, with the notes of the old one. Raises JournalFailed."""
    asyncio.run(_write(target, lines, found.notes))
    return Salvage(found=found, written=len(lines), gaps=gaps_of(lines))


def _examined(path: Path, lines: list[Line]) -> Findings:
    try:
        return examine(path, take=lambda rows: lines.extend(map(line_of, rows)))
    except (OSError, *UNREADABLE) as exc:
        raise JournalFailed(f"cannot read the journal {path} ({exc}): check the path and the disk") from exc


async def _write(target: Path, lines: Iterable[Line], notes: Mapping[str, str]) -> None:
    journal = SqliteJournal.open(target)
    try:
        for key, value in notes.items():
            journal.set_note(key, value)
        for received_unix_ms, together in groupby(lines, key=lambda line: line.received_unix_ms):
            drafts = [
                Draft(sender=line.sender, sequence=line.sequence, body=line.body, refusal=line.refusal)
                for line in together
            ]
            await journal.append(drafts, received_unix_ms=received_unix_ms)
    finally:
        await journal.close()


def gaps_of(lines: Iterable[Line]) -> dict[str, list[int]]:
    """Give the missing numbers of each sender: those below its highest number that are not there."""
    used: defaultdict[str, set[int]] = defaultdict(set)
    for line in lines:
        used[line.sender].add(line.sequence)
    gaps = {sender: sorted(set(range(1, max(numbers))) - numbers) for sender, numbers in sorted(used.items())}
    return {sender: missing for sender, missing in gaps.items() if missing}
