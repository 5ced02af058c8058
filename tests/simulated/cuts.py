"""Power cuts: a journal is written once with all that happens to its files noted, then cut off at any point of it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from shell.journal_damage import NAME, folder
from simulated.disk import Contents, Disk
from simulated.vfs import Layer
from tallywire.core.errors import JournalDamaged
from tallywire.shell.journal.line_file import LineFile, open_lines
from tallywire.shell.journal.port import Draft, Line

SESSIONS, LINES = 3, 60
MOST_BYTES = 3000
"""A body of this size takes two pages: checkpoints come often, and fall between commits."""


class OftenTakenIn(sqlite3.Connection):
    """A connection that takes its log into the database after every twenty pages, not after a thousand."""

    def __init__(self, *args: object, **options: object) -> None:
        super().__init__(*args, **options)  # type: ignore[arg-type]
        self.execute("PRAGMA wal_autocheckpoint = 20")


class NotSynced(OftenTakenIn):
    """The mutant: its commits return before their sync, as with `synchronous = NORMAL`."""

    def execute(self, sql: str, parameters: object = (), /) -> sqlite3.Cursor:
        """Turn the syncs off before the first line."""
        if sql.startswith("INSERT INTO line"):
            super().execute("PRAGMA synchronous = NORMAL")
        return super().execute(sql, parameters)  # type: ignore[arg-type]


@dataclass(slots=True)
class Written:
    """What was done to the files, and which lines were acknowledged after how many of these steps."""

    disk: Disk = field(default_factory=Disk)
    place: Path = Path()
    acknowledged: list[tuple[int, Line]] = field(default_factory=list)


def written(seed: int, factory: type[sqlite3.Connection]) -> Written:
    """Write a journal in several sessions, each closed in order, in groups of lines as dice say."""
    dice, done = Random(seed), Written()
    done.disk.is_logging = True
    sequence = 0
    with folder() as done.place, Layer(done.disk, dice=dice).in_use():
        for session in range(SESSIONS):
            with open_lines(done.place / NAME, factory) as file:
                _note(file, session)
                while sequence < LINES * (session + 1):
                    size = dice.choice((1, 1, 1, 2, 5))
                    drafts = [_draft(dice, sequence + n) for n in range(1, size + 1)]
                    sequence += size
                    lines = file.write([(drafts, dice.randrange(10**12))])[0]
                    done.acknowledged += [(len(done.disk.log), line) for line in lines]
                    if dice.random() < 0.1:
                        file.force_seal(is_idle=True)
    return done


def _note(file: LineFile, session: int) -> None:
    file.set_note("mode", "live")
    if session:
        file.set_note("competition", "Practice Trials")


def _draft(dice: Random, sequence: int) -> Draft:
    body = b"%d " % sequence + dice.randbytes(dice.choice((30, 200, MOST_BYTES)))
    return Draft(sender="lane-1-abcde", sequence=sequence, body=body, refusal=b"{}" if dice.random() < 0.1 else None)


def cut_off(done: Written, points: Sequence[int], dice: Random) -> Iterator[tuple[int, Contents]]:
    """Cut the power after so many steps, for each of these points, and give what is on the disk then."""
    disk, at = Disk(), 0
    for point in sorted(points):
        for step in done.disk.log[at:point]:
            step(disk)
        at = point
        yield point, disk.after_power_cut(dice)


@contextmanager
def found(contents: Contents) -> Iterator[Path]:
    """Put files into a folder of their own and give the journal's path there."""
    with folder() as place:
        for path, data in contents.items():
            if data is not None:
                (place / Path(path).name).write_bytes(data)
        yield place / NAME


def fault_after(done: Written, point: int, contents: Contents) -> str | None:
    """Start on what a power cut left and say what is wrong with it: None when nothing is."""
    lines = [line for _, line in done.acknowledged]
    acknowledged = sum(after <= point for after, _ in done.acknowledged)
    with found(contents) as path:
        try:
            with open_lines(path, sqlite3.Connection) as file:
                there = file.read(after=0, limit=len(lines) + 1)
                if len(there) < acknowledged:
                    return f"lost: {acknowledged} acknowledged, {len(there)} there"
                if there != lines[: len(there)]:
                    return "altered"
                file.write([([Draft(sender="next", sequence=1, body=b"{}")], 1)])
        except JournalDamaged as exc:
            return f"named: {exc}"
        with closing(sqlite3.connect(path)) as connection:
            said = connection.execute("PRAGMA integrity_check").fetchone()[0]
    return None if said == "ok" else str(said)
