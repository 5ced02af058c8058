"""A process that appends until it is killed: it prints `number sender sequence` for each line that was answered.

Usage: python journal_child.py PATH [early|unsynced]. With `early` it is the mutant that answers before its commit, with
`unsynced` the one whose commits are not synced.
"""

from __future__ import annotations

import asyncio
import os
import sqlite3
import sys
from pathlib import Path

from shell.journal_faults import Hold, early_connection
from simulated.cuts import NotSynced
from tallywire.shell.journal.port import Draft
from tallywire.shell.journal.sqlite import SqliteJournal

SENDERS = 16


def body_of(sender: str, sequence: int) -> bytes:
    """Give the body that a sender's line must have: long enough for a torn write to show."""
    return f"{sender} {sequence} ".encode() * 12


async def send(journal: SqliteJournal, sender: str, sequence: int) -> None:
    """Append one line after the other and print each answer at once, for ever."""
    while True:
        sequence += 1
        draft = Draft(sender=sender, sequence=sequence, body=body_of(sender, sequence))
        lines = await journal.append([draft], received_unix_ms=sequence)
        os.write(1, f"{lines[0].number} {sender} {sequence}\n".encode())


async def main(path: Path, factory: type[sqlite3.Connection]) -> None:
    """Go on where each sender stopped."""
    journal = SqliteJournal.open(path, factory=factory)
    marks = journal.watermarks()
    senders = [f"pad-{n}" for n in range(SENDERS)]
    await asyncio.gather(*(send(journal, sender, marks.get(sender, 0)) for sender in senders))


def factory_of(mutant: str) -> type[sqlite3.Connection]:
    """Give the connection class of a mutant, or the real one."""
    return {"early": early_connection(Hold()), "unsynced": NotSynced}.get(mutant, sqlite3.Connection)


if __name__ == "__main__":
    asyncio.run(main(Path(sys.argv[1]), factory_of("".join(sys.argv[2:]))))
