"""The memory journal keeps the contract, so tests that use it see what a durable one would do."""

from __future__ import annotations

from pathlib import Path

from shell.journal_contract import JournalContract
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.journal.port import Journal


class TestMemoryJournal(JournalContract):
    async def open_journal(self, place: Path) -> Journal:  # noqa: ARG002
        """Give a new one: nothing outlives it."""
        return MemoryJournal()
