"""The journal on Redis: the contract, on every server there is, and what is particular to a stream with a lease."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from shell.journal_contract import DurableJournalContract, JournalContract, append, draft, numbers
from shell.redis_servers import RedisServer, binaries, redis_server
from tallywire.core.errors import JournalAway, JournalDamaged, JournalFailed, JournalInUse, JournalTaken, TallywireError
from tallywire.shell.journal.on_redis.client import Place, RedisClient
from tallywire.shell.journal.on_redis.follower import LINES, MARKS, STATE, Follower
from tallywire.shell.journal.on_redis.holding import RedisHoldingJournal
from tallywire.shell.journal.on_redis.journal import RedisJournal
from tallywire.shell.journal.on_redis.lines import make_owner
from tallywire.shell.journal.on_redis.promise import weaknesses
from tallywire.shell.journal.port import Journal
from tallywire.shell.storage import Storage

_ENTRY = ("received", 0, "sender", "p", "sequence", 1, "body", "b", "chain", "c")


@pytest.fixture(scope="module", params=sorted(binaries()))
def server(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[RedisServer]:
    """Run one server for all tests of this module; files synced by nobody, since none of these pulls a plug."""
    with redis_server(tmp_path_factory.mktemp("redis"), name=request.param, appendfsync="no") as server:
        yield server


@pytest.fixture
def place(server: RedisServer) -> Place:
    """Give an empty database."""
    with server.client() as client:
        client.flushall()
    return Place(url=server.url)


def writer_at(place: Place) -> RedisJournal:
    """Open the journal as a writer of its own."""
    return RedisJournal.open(place, owner=make_owner())


class TestRedisJournal(DurableJournalContract):
    _place: Place

    @pytest.fixture(autouse=True)
    def _empty(self, place: Place) -> None:
        self._place = place

    async def open_journal(self, place: Path) -> Journal:  # noqa: ARG002
        """Open the one journal of the empty database, which stands for the folder, as the same writer each time."""
        return RedisJournal.open(self._place, owner="contract")


class TestRedisHoldingJournal(JournalContract):
    _place: Place

    @pytest.fixture(autouse=True)
    def _empty(self, place: Place) -> None:
        self._place = place

    async def open_journal(self, place: Path) -> Journal:  # noqa: ARG002
        """Open a journal that holds while its server is away."""
        journal = RedisHoldingJournal(self._place, storage=Storage())
        await journal.lead(lambda _lines: None)
        return journal


async def test_a_second_writer_is_refused_until_the_first_closes(place: Place) -> None:
    """While a lease runs nobody else may write; a writer that closes gives it up at once; each has its own epoch."""
    first = writer_at(place)
    with pytest.raises(JournalInUse, match=r"found another writer .* epoch 1, whose lease runs [0-9]+ ms more"):
        writer_at(place)
    await first.close()
    second = writer_at(place)
    assert second.epoch == 2
    await second.close()


async def test_one_that_follows_gets_what_is_new_each_time(place: Place) -> None:
    """Waiting gives the lines that came since, checked, and nothing where none came for so long."""
    writer, client, follower = writer_at(place), RedisClient(place), Follower()
    for sequences in ((1, 2), (3,), ()):
        drafts = [draft(each) for each in sequences]
        written = list(await append(writer, *drafts)) if drafts else []
        assert follower.wait(client, wait_ms=1) == written
    client.close()
    await writer.close()


async def test_a_writer_that_lost_its_lease_can_write_nothing(place: Place) -> None:
    """After another took over, what the first still sends is refused, before and after the other has written."""
    brief = replace(place, lease_ms=0)
    first, idle = writer_at(brief), writer_at(brief)
    second = writer_at(brief)
    with pytest.raises(JournalTaken, match=r"found epoch 3 .*, expected 1: another writer has taken over"):
        await append(first, draft(1))
    await append(second, draft(1))
    with pytest.raises(JournalTaken, match="found epoch 3"):
        idle.renew()
    assert numbers(list(second.read())) == [1]
    for journal in (first, idle, second):
        await journal.close()


async def test_the_epoch_stands_in_the_id_of_each_line(place: Place, server: RedisServer) -> None:
    """Stream ids are NUMBER-EPOCH, so that anybody can see which writer wrote a line."""
    for sequence in (1, 2):
        journal = writer_at(place)
        await append(journal, draft(sequence), draft(sequence, sender="pad-2"))
        await journal.close()
    with server.client() as client:
        assert [name for name, _ in client.xrange(LINES)] == [b"1-1", b"2-1", b"3-2", b"4-2"]


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (("XDEL", LINES, "2-1"), "found line 3 .* after line 1, expected the next"),
        (("XDEL", LINES, "3-1"), "found 2 lines .* that end in line 2, expected line 3"),
        (("XTRIM", LINES, "MAXLEN", "=", 1), "found line 3 .* after line 0"),
        (("DEL", STATE), "expected line 0 as its state says"),
        (("HSET", STATE, "last", "2"), "expected line 2 as its state says"),
        (("HSET", MARKS, "pad-1", "2"), 'found watermark 2 of sender "pad-1" .*, expected 3 as its lines say'),
        (("HSET", MARKS, "pad-9", "2"), 'found watermark 2 of sender "pad-9" .*, expected None'),
        (
            ("XADD", LINES, "4-1", *_ENTRY),
            "found line 4 .* its own che",
        ),
    ],
)
async def test_what_another_program_changes_is_found(
    place: Place, server: RedisServer, command: tuple[str | int, ...], said: str
) -> None:
    """Lines that went, came or changed, and watermarks that do not agree with them, are named at the next start."""
    journal = writer_at(place)
    await append(journal, draft(1), draft(2), draft(3))
    await journal.close()
    with server.client() as client:
        client.execute_command(*command)
    with pytest.raises(JournalDamaged, match=said):
        writer_at(place)


async def test_lines_that_come_or_go_under_the_writer_stop_it(place: Place, server: RedisServer) -> None:
    """The append itself compares number, chain and the stream's end with what the writer last wrote."""
    for command in (("XDEL", LINES, "1-1"), ("HSET", STATE, "head", "other"), ("HSET", STATE, "last", "7")):
        with server.client() as client:
            client.flushall()
            journal = writer_at(place)
            await append(journal, draft(1))
            client.execute_command(*command)
        with pytest.raises(JournalFailed, match="expected 1: lines came or went"):
            await append(journal, draft(2))
        await journal.close()


async def test_a_batch_is_one_round_trip(place: Place, server: RedisServer) -> None:
    """A hundred lines of one append cost the server as many commands from outside as one line: a single script."""
    journal = writer_at(place)
    calls = []
    for first, count in ((1, 1), (2, 100)):
        with server.client() as client:
            client.config_resetstat()
            await append(journal, *(draft(n) for n in range(first, first + count)))
            stats = client.info("commandstats")
        calls.append((stats["cmdstat_evalsha"]["calls"], stats["cmdstat_xadd"]["calls"]))
    assert calls == [(1, 1), (1, 100)]
    await journal.close()


def test_a_server_that_promises_less_is_named(place: Place, server: RedisServer) -> None:
    """Each setting under which an acknowledged fact may be lost has a warning of its own; a durable one has none."""
    client = RedisClient(place)
    cases = {
        ("appendfsync", "no"): "has appendfsync no: a power cut takes acknowledged facts that its system has not",
        (
            "appendfsync",
            "everysec",
        ): "has appendfsync everysec: a power cut takes acknowledged facts of some two seconds",
        (
            "appendonly",
            "no",
        ): "keeps no append-only file: when it stops, acknowledged facts are lost; set appendonly yes",
    }
    with server.client() as admin:
        for (name, value), said in cases.items():
            admin.config_set(name, value)
            assert [each.startswith(said) for each in weaknesses(client)] == [True]
        admin.config_set("appendonly", "yes")
        admin.config_set("appendfsync", "always")
        assert weaknesses(client) == []
        admin.config_set("maxmemory", "1gb")
        admin.config_set("maxmemory-policy", "allkeys-lru")
        assert "may throw the journal out of its memory (allkeys-lru)" in weaknesses(client)[0]
        admin.config_set("maxmemory", "0")
        admin.config_set("appendfsync", "no")
    client.close()


def test_a_server_that_is_not_there_is_said_plainly() -> None:
    """Without a server the start ends in one message that names it, without the password in its address."""
    with pytest.raises(
        JournalAway, match=r"the journal's server 127.0.0.1:1/0 does not take facts .*: start it"
    ) as said:
        writer_at(Place(url="redis://:secret@127.0.0.1:1/0"))
    assert "secret" not in str(said.value) + repr(Place(url="redis://:secret@127.0.0.1:1/0"))
    with pytest.raises(TallywireError, match="expected one such as redis://"):
        Place(url="nowhere").checked()


@pytest.mark.slow
@pytest.mark.parametrize(("writer", "said"), [("fenced", "JournalTaken"), ("unfenced", "appended")])
def test_a_writer_stopped_between_lease_check_and_append(
    place: Place, server: RedisServer, writer: str, said: str
) -> None:
    """Stopped by SIGSTOP exactly there and resumed after a take-over, it writes nothing; without the fence it does."""
    command = [sys.executable, "-m", "shell.redis_child", server.url, writer]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "checked\n"
        os.waitpid(child.pid, os.WUNTRACED)
        second = writer_at(place)
        child.send_signal(signal.SIGCONT)
        assert child.stdout.readline() == f"{said}\n"
    with server.client() as client:
        assert [name for name, _ in client.xrange(LINES)] == ([] if writer == "fenced" else [b"1-1"])
    assert second.epoch == 2
    asyncio.run(second.close())
