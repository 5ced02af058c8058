"""Journals with damage done to them, and what became of their facts."""

from __future__ import annotations

import asyncio
import random
import sqlite3
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from shell.journal_contract import NOW, draft
from tallywire.core.errors import JournalFailed
from tallywire.shell.journal.port import Line
from tallywire.shell.journal.reading import look
from tallywire.shell.journal.sqlite import SqliteJournal

RECORDS = 200
NAME = "journal.sqlite"
NOTES = {"mode": "live", "competition": "Practice Trials"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Files:
    """A journal's files as bytes, by the end of their names, and the lines that were acknowledged."""

    data: dict[str, bytes]
    lines: Sequence[Line]

    def put(self, folder: Path) -> Path:
        """Write the files to an empty folder and give the journal's path."""
        for end, data in self.data.items():
            (folder / f"{NAME}{end}").write_bytes(data)
        return folder / NAME

    def flipped(self, end: str, bit: int) -> Files:
        """Give the same files with one bit of one of them flipped."""
        data = bytearray(self.data[end])
        data[bit // 8] ^= 1 << bit % 8
        return Files(data={**self.data, end: bytes(data)}, lines=self.lines)


async def _written(path: Path, *, stop: bool) -> Files:
    journal = SqliteJournal.open(path)
    lines: list[Line] = []
    for key, value in NOTES.items():
        journal.set_note(key, value)
    for number in range(1, RECORDS + 1):
        body = b'{"fact":"rep_counted","id":"lane-%d-abcde.%d","heat":"h1","lane":1}' % (number % 5, number)
        refusal = b'{"code":"fact_refused"}' if number % 41 == 0 else None
        drafts = [draft((number + 4) // 5, sender=f"lane-{number % 5}-abcde", body=body, refusal=refusal)]
        lines += await journal.append(drafts, received_unix_ms=NOW + number)
    if stop:
        await journal.close()
    ends = ["", "-wal", ".seal"]
    found = {end: (path.parent / f"{NAME}{end}") for end in ends}
    files = Files(data={end: each.read_bytes() for end, each in found.items() if each.exists()}, lines=lines)
    await journal.close()
    return files


def stopped() -> Files:
    """Give the files of a journal that was closed in order: its log is gone."""
    with folder() as place:
        return asyncio.run(_written(place / NAME, stop=True))


def killed() -> Files:
    """Give the files as a kill leaves them: what was written last is in the log only."""
    with folder() as place:
        return asyncio.run(_written(place / NAME, stop=False))


@contextmanager
def folder() -> Iterator[Path]:
    """Give a new folder in memory where there is such a place: thousands of trials are to cost no disk syncs."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as place:
        yield Path(place)


def outcome(files: Files) -> str:
    """Start on these files and say how it went: `harmless`, `named`, or what is wrong with how it went."""
    with folder() as place:
        path = files.put(place)
        try:
            is_named = bool(look(path).faults)
        except JournalFailed:
            is_named = True
        before = _bytes_of(place)
        try:
            return asyncio.run(_started(path, files.lines, is_named=is_named))
        except JournalFailed as exc:
            if not is_named:
                return f"the start stopped ({exc}) and verify found nothing"
            return "named" if _bytes_of(place) == before else "the start changed what it refused"
        except Exception as exc:
            return f"raw {type(exc).__name__}: {exc}"


async def _started(path: Path, lines: Sequence[Line], *, is_named: bool) -> str:
    journal = SqliteJournal.open(path)
    try:
        if is_named:
            return "verify named damage and the start went on"
        if list(journal.read()) != list(lines) or {key: journal.note(key) for key in NOTES} != NOTES:
            return "started without a word on other facts"
        added = await journal.append([draft(1_000, sender="lane-1-abcde")], received_unix_ms=NOW)
        return "harmless" if added[0].number == RECORDS + 1 else "went on with another number"
    finally:
        await journal.close()


def _bytes_of(place: Path) -> dict[str, bytes]:
    return {each.name: each.read_bytes() for each in place.iterdir() if not each.name.endswith((".lock", "-shm"))}


def bits(data: bytes, *, head: Iterable[int], sample: int, seed: int) -> list[int]:
    """Give every bit of these bytes, and a sample of all the others."""
    first = [byte * 8 + bit for byte in head for bit in range(8)]
    rest = random.Random(seed).sample(range(len(data) * 8), min(sample, len(data) * 8))
    return sorted({*first, *rest})


def edit(files: Files, script: str) -> Files:
    """Give the files after a change by SQL that puts the file's own triggers back as they were."""
    with folder() as place:
        path = files.put(place)
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            triggers = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
            for name, _ in triggers:
                connection.execute(f"DROP TRIGGER {name}")
            connection.executescript(script)
            for _, sql in triggers:
                connection.execute(sql)
        return Files(data={**files.data, "": path.read_bytes()}, lines=files.lines)


def without(files: Files, *ends: str) -> Files:
    """Give the files less some of them."""
    return Files(data={end: data for end, data in files.data.items() if end not in ends}, lines=files.lines)


def cut(files: Files, end: str, size: int) -> Files:
    """Give the files with one of them cut to a size."""
    return Files(data={**files.data, end: files.data[end][:size]}, lines=files.lines)
