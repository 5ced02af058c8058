"""A real server as the system sees it: it answers after its syncs, and ends in one message when the disk fails."""

from __future__ import annotations

import asyncio
import os
import re
import signal
import subprocess
from pathlib import Path

import pytest

from e2e.blast import Blast, competition, faults
from e2e.mutant_server import first
from e2e.processes import Ended, Served, served_with
from e2e.strace import SYNCS, Call, answered_too_early, calls_in, can_trace, tracing
from tallywire.shell.journal.reading import sound_lines

pytestmark = [pytest.mark.slow, pytest.mark.skipif(not can_trace(), reason="found no strace that may trace")]


def ids(text: str) -> list[str]:
    """Find the facts in a page of the log."""
    return re.findall(r'\\"id\\":\\"(lane-\d-abc\.\d+)\\"', text)


def answers(call: Call) -> list[str]:
    """Find the facts that a message acknowledges: all up to its watermark."""
    found = re.search(r'\\"acknowledged\\",\\"sender\\":\\"(lane-\d-abc)\\",\\"watermark\\":(\d+)', call.text)
    return [f"{found[1]}.{n}" for n in range(1, int(found[2]) + 1)] if found and call.name == "sendto" else []


async def traced(folder: Path, mutant: str = "") -> list[Call]:
    """Serve under strace until some facts of eight senders are acknowledged, and give the server's calls."""
    out, data, blast = folder / "trace", folder / "data", Blast()
    under = tracing(out, "pwrite64", "sendto", *SYNCS)
    arguments = ("serve", str(competition(folder)), "--data", str(data), "--port", "0")
    with served_with(*arguments, under=under, first=mutant) as server:
        await blast.until_killed(server, facts=1000, kill=lambda: end(data))
        server.process.wait(timeout=60)
    return calls_in(out.read_text(encoding="utf-8", errors="replace").splitlines())


def end(data: Path) -> None:
    """Kill the server itself; strace ends with it."""
    os.kill(int((data / "journal.sqlite.lock").read_text()), signal.SIGKILL)


async def test_a_server_acknowledges_after_its_sync_by_system_calls(tmp_path: Path) -> None:
    """Of a thousand facts of eight senders each acknowledgement goes out after the sync that holds it has returned."""
    count, early = answered_too_early(await traced(tmp_path), ids=ids, answers=answers)
    print(f"{count} facts acknowledged, {len(early)} before their sync")
    assert count >= 1000
    assert early == []


@pytest.mark.long
async def test_the_order_of_calls_shows_a_server_that_does_not_sync(tmp_path: Path) -> None:
    """The check above is able to fail: a server with `synchronous = NORMAL` acknowledges too early."""
    count, early = answered_too_early(await traced(tmp_path, first("unsynced")), ids=ids, answers=answers)
    assert count >= 1000
    assert len(early) > 10


@pytest.mark.parametrize(
    "fault",
    [
        "fdatasync:error=EIO:when=25",
        pytest.param("pwrite64:error=EIO:when=120", marks=pytest.mark.long),
        pytest.param("fdatasync:error=EIO:when=1", marks=pytest.mark.long),
        pytest.param("pwrite64:error=EIO:when=2", marks=pytest.mark.long),
        pytest.param("msync:error=EIO:when=2", marks=pytest.mark.long),
    ],
)
async def test_a_disk_error_ends_a_server_in_one_message(tmp_path: Path, fault: str) -> None:
    """EIO at a commit or at the start: one message, no traceback, exit code 3, and nothing acknowledged is lost."""
    blast = await check_disk_error(tmp_path, fault)
    print(f"{fault}: {sum(blast.acknowledged.values())} facts acknowledged before")


@pytest.mark.parametrize("mutant", ["deaf", pytest.param("loud", marks=pytest.mark.long)])
async def test_the_check_of_a_disk_error_finds_a_server_that_takes_it_wrongly(tmp_path: Path, mutant: str) -> None:
    """The check above is able to fail: one that goes on after the error is found, and one that shows a traceback."""
    with pytest.raises(AssertionError, match="still runs" if mutant == "deaf" else "Traceback"):
        await check_disk_error(tmp_path, "fdatasync:error=EIO:when=25", first(mutant), most=5000, patience_s=3)


async def check_disk_error(
    folder: Path, fault: str, mutant: str = "", most: int = 1_000_000, patience_s: int = 60
) -> Blast:
    """Serve and send until a fault ends the server; check how it did, and what is in its journal."""
    data, blast, said = folder / "data", Blast(), folder / "said"
    under = tracing(Path("/dev/null"), fault.partition(":")[0], inject=[fault])
    arguments = ("serve", str(competition(folder)), "--data", str(data), "--port", "0")
    with said.open("wb") as stderr:
        try:
            with served_with(*arguments, under=under, stderr=stderr, first=mutant) as server:
                await asyncio.wait_for(blast.until_gone(server, most), 120)
                assert ended_with(server, data, patience_s) == 3
        except Ended as exc:
            assert "ended with 3 before it listened" in str(exc)
    assert re.fullmatch(r"tallywire: [^\n]*(disk I/O error|Input/output error)[^\n]*\n", said.read_text())
    assert faults(blast.acknowledged, sound_lines(data / "journal.sqlite").lines) == []
    return blast


def ended_with(server: Served, data: Path, patience_s: int) -> int:
    """Give the exit code of a server that was left alone by its senders."""
    try:
        return server.process.wait(timeout=patience_s)
    except subprocess.TimeoutExpired:
        # strace leaves it running when it is ended itself.
        end(data)
        raise AssertionError("the server still runs") from None
