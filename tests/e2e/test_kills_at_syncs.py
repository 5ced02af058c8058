"""A whole server killed as one of its syncs begins, from the very first start on: what it acknowledged is there."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

import pytest

from e2e.blast import Blast, competition, faults
from e2e.mutant_server import first
from e2e.processes import Ended, served, served_with
from e2e.strace import SYNCS, Sync, calls_in, can_trace, syncs_by_file, tracing
from tallywire.shell.journal.reading import sound_lines

pytestmark = [pytest.mark.slow, pytest.mark.skipif(not can_trace(), reason="found no strace that may trace")]
LOG = Path("journal.sqlite-wal")
FIRST, FACTS = 60, 25_000
"""So many syncs are tried, and so many facts come with more; a first start has some fifteen: folder, journal, links,
the key of the command line, competition.
"""


def arguments(folder: Path) -> tuple[str, ...]:
    """Give the command line of a server in a folder, which is made when missing."""
    folder.mkdir(exist_ok=True)
    return ("serve", str(competition(folder)), "--data", str(folder / "data"), "--port", "0")


async def syncs_of(folder: Path) -> list[Sync]:
    """Serve for the first time under strace, send, kill, and give the syncs."""
    out, data, blast = folder / "trace", folder / "data", Blast()
    with served_with(*arguments(folder), under=tracing(out, *SYNCS)) as server:
        lock = data / "journal.sqlite.lock"
        await blast.until_killed(server, facts=FACTS, kill=lambda: os.kill(int(lock.read_text()), signal.SIGKILL))
        server.process.wait(timeout=60)
    return syncs_by_file(calls_in(out.read_text(encoding="utf-8", errors="replace").splitlines()), data)


async def killed_at(folder: Path, sync: Sync, mutant: str = "") -> Blast:
    """Serve for the first time, send, and have the server killed as it begins a sync."""
    blast, path = Blast(), None if sync.path is None else folder / "data" / sync.path
    inject = [f"{sync.name}:signal=SIGKILL:when={sync.number}"]
    under = tracing(Path("/dev/null"), sync.name, inject=inject, path=path)
    with suppress(Ended), served_with(*arguments(folder), under=under, first=mutant) as server:
        await asyncio.wait_for(blast.until_gone(server), 120)
        server.process.wait(timeout=60)
    return blast


async def found_after(folder: Path, blast: Blast) -> list[str]:
    """Start again, send some more, and say what is wrong with the journal."""
    with served(*arguments(folder)) as server:
        await blast.until_killed(server, facts=100)
    return faults(blast.acknowledged, sound_lines(folder / "data" / "journal.sqlite").lines)


async def lost_nothing(folder: Path, syncs: Sequence[Sync]) -> None:
    """Kill a server at each of these syncs of its first start, and start it again."""
    answered = 0
    for n, sync in enumerate(syncs):
        blast = await killed_at(folder / str(n), sync)
        answered += sum(blast.acknowledged.values())
        assert await found_after(folder / str(n), blast) == [], f"killed at {sync}"
    print(f"killed at {len(syncs)} syncs of a server, {answered} facts acknowledged")
    assert answered > 0


async def test_a_server_killed_at_a_sync_lost_nothing(tmp_path: Path) -> None:
    """Killed as it keeps its links, and in the middle of a first heat; then it starts and takes more."""
    await lost_nothing(tmp_path, [Sync("fsync", Path("links.json.new"), 1), Sync("fdatasync", LOG, 12)])


@pytest.mark.long
async def test_a_server_killed_at_any_of_its_first_syncs_lost_nothing(tmp_path: Path) -> None:
    """Each of the first sixty from the very first start on, of the journal and of the other files."""
    syncs = await syncs_of(tmp_path / "whole")
    assert len(syncs) >= FIRST
    await lost_nothing(tmp_path, syncs[:FIRST])


async def test_the_kill_at_a_sync_finds_a_server_that_answers_early(tmp_path: Path) -> None:
    """The check above is able to fail: one that answers before its commit has acknowledged what is not there."""
    # By the fifth seal answers have reached the senders; at the second they may still be on their way.
    folder = tmp_path / "early"
    blast = await killed_at(folder, Sync("msync", None, 5), first("early"))
    assert sum(blast.acknowledged.values()) > 0
    with pytest.raises(Ended, match="ended with 3 before it listened"):
        await found_after(folder, blast)
