"""The journal's Redis server killed, unreachable, or back without its newest lines, under a writer that goes on."""

from __future__ import annotations

import asyncio
import socket
import time
from collections.abc import AsyncIterator, Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from random import Random
from typing import Any

import pytest

from shell.cut_link import CutLink, cut_link
from shell.journal_contract import append, draft
from shell.redis_servers import RedisServer, binaries, redis_server
from tallywire.core.errors import JournalAway, JournalDamaged, JournalTaken
from tallywire.shell.journal.chain import GENESIS, chained
from tallywire.shell.journal.on_redis import holding
from tallywire.shell.journal.on_redis.client import Place, RedisClient
from tallywire.shell.journal.on_redis.follower import LINES, Follower
from tallywire.shell.journal.on_redis.holding import BEAT_S, PATIENCE_S, RedisHoldingJournal
from tallywire.shell.journal.on_redis.journal import RedisJournal
from tallywire.shell.journal.on_redis.tail import Tail
from tallywire.shell.journal.port import Line
from tallywire.shell.storage import AWAY, BACK, OK, Storage, StorageState

pytestmark = pytest.mark.slow
PATIENT = 60


@pytest.fixture
def server(tmp_path: Path) -> Iterator[RedisServer]:
    """Run a server that syncs each command to its append-only file."""
    with redis_server(tmp_path / "redis") as server:
        yield server


@dataclass(slots=True)
class Writer:
    """A writer that appends line after line, and what it was answered and told."""

    journal: RedisHoldingJournal
    storage: Storage
    answered: list[Line] = field(default_factory=list)
    told: list[StorageState] = field(default_factory=list)

    async def until(self, true: Callable[[], bool]) -> None:
        """Wait until something is true."""
        async with asyncio.timeout(PATIENT):
            while not true():  # noqa: ASYNC110
                await asyncio.sleep(0.002)

    async def is_back(self, epoch: int | None) -> None:
        """Wait until it writes under a later epoch."""
        await self.until(lambda: self.storage.now is BACK and (self.storage.epoch or 0) > (epoch or 0))

    async def answers(self, more: int) -> None:
        """Wait until so many more lines were acknowledged."""
        wanted = len(self.answered) + more
        await self.until(lambda: len(self.answered) >= wanted)

    async def write(self) -> None:
        """Append a few lines at a time until cancelled."""
        number = 0
        while True:
            drafts = [draft(number + n, body=b"%d" % (number + n)) for n in (1, 2, 3)]
            self.answered += await append(self.journal, *drafts)
            number += 3


async def leading(place: Place, storage: Storage) -> RedisHoldingJournal:
    """Open the journal and become its writer."""
    journal = RedisHoldingJournal(place, storage=storage)
    await journal.lead(lambda _lines: None)
    return journal


@asynccontextmanager
async def writing(place: Place) -> AsyncIterator[Writer]:
    """Have a writer write, and keep its lease."""
    storage = Storage()
    writer = Writer(await leading(place, storage), storage)
    storage.subscribe("test", writer.told.append)
    tasks = [asyncio.create_task(writer.write()), asyncio.create_task(writer.journal.keep())]
    try:
        yield writer
    finally:
        tasks[0].cancel()
        await writer.journal.close()
        await asyncio.gather(*tasks, return_exceptions=True)


@asynccontextmanager
async def following(place: Place) -> AsyncIterator[list[Line]]:
    """Follow as an edge does, over the same link, and give what has come so far."""
    lines, storage = list[Line](), Storage()
    journal = RedisHoldingJournal(place, storage=storage)
    await journal.catch_up(lines.extend)
    task = asyncio.create_task(journal.follow(lines.extend))
    try:
        yield lines
    finally:
        await journal.close()
        await asyncio.gather(task, return_exceptions=True)


async def test_a_follower_says_how_far_behind_it_is(server: RedisServer) -> None:
    """From a second on, in milliseconds, for as long as the server is away."""
    storage = Storage()
    journal = RedisHoldingJournal(Place(url=server.url, timeout_s=1.0), storage=storage)
    task, shown = asyncio.create_task(journal.follow(lambda _lines: None)), list[int]()
    server.kill()
    async with asyncio.timeout(PATIENT):
        while len({*shown}) < 3:
            await asyncio.sleep(0.05)
            shown.append(storage.behind_ms or 0)
    await journal.close()
    await asyncio.gather(task, return_exceptions=True)
    assert min(ms for ms in shown if ms) >= 1000
    assert shown == sorted(shown)


def check(server: RedisServer, answered: list[Line]) -> list[int]:
    """Check that stream, state and watermarks agree and begin with what was answered; give each line's epoch."""
    client = RedisClient(Place(url=server.url))
    lines = Follower().take(client, limit=1_000_000)
    if client.ask("DBSIZE"):  # A file cut before its first write leaves nothing to agree.
        Follower().check(client)
    client.close()
    assert lines[: len(answered)] == answered, "an acknowledged line is missing, doubled, or in another place"
    with server.client() as own:
        return [int(name.partition(b"-")[2]) for name, _ in own.xrange(LINES)]


async def test_a_server_killed_and_started_again(server: RedisServer, request: pytest.FixtureRequest) -> None:
    """Nothing acknowledged is lost or doubled; everybody is told that it is away, and that it is back."""
    kills = 20 if request.config.getoption("--long") else 2
    async with writing(Place(url=server.url)) as writer, following(Place(url=server.url)) as followed:
        for _ in range(kills):
            await writer.answers(30)
            epoch = writer.storage.epoch
            await asyncio.to_thread(server.kill)
            await writer.until(lambda: writer.storage.now is AWAY)
            await asyncio.to_thread(server.start)
            await writer.is_back(epoch)
        await writer.answers(30)
        count = len(writer.answered)
        await writer.until(lambda: len(followed) >= count)
    assert followed[:count] == writer.answered[:count]
    # On a very busy machine an answer may be late for no other reason, and that is said too.
    assert writer.told == [AWAY, BACK] * (len(writer.told) // 2)
    assert len(writer.told) >= 2 * kills
    epochs = check(server, writer.answered)
    assert epochs == sorted(epochs)


@pytest.mark.parametrize("cut", [CutLink.break_off, CutLink.swallow])
async def test_a_link_that_is_cut_and_healed(
    server: RedisServer, cut: Callable[[CutLink], None], request: pytest.FixtureRequest
) -> None:
    """Broken off or silent, the link's cut is said; what was on its way is there once when it is healed."""
    cuts = 20 if request.config.getoption("--long") else 1
    with cut_link(server.port) as link:
        place = Place(url=f"redis://127.0.0.1:{link.port}/0", timeout_s=PATIENCE_S + 0.2)
        async with writing(place) as writer, following(replace(place, timeout_s=1.0)) as followed:
            for _ in range(cuts):
                await writer.answers(30)
                cut(link)
                await writer.until(lambda: writer.storage.now is AWAY)
                link.heal()
                await writer.until(lambda: writer.storage.now is BACK)
            await writer.answers(30)
            count = len(writer.answered)
            await writer.until(lambda: len(followed) >= count)
    assert followed[:count] == writer.answered[:count]
    check(server, writer.answered)


def cut_file(server: RedisServer, random: Random) -> int:
    """Cut the newest append-only file at a random byte; give how many bytes are left."""
    newest = max((server.folder / "appendonlydir").glob("*.incr.aof"), key=lambda path: path.stat().st_mtime)
    left = random.randrange(newest.stat().st_size)
    with newest.open("r+b") as file:
        file.truncate(left)
    return left


async def test_an_append_only_file_cut_at_random_bytes(
    server: RedisServer, request: pytest.FixtureRequest, record_property: Callable[[str, object], None]
) -> None:
    """Stream, state and watermarks always agree, and the running writer appends what is missing, under a new epoch."""
    cuts, seed = 200 if request.config.getoption("--long") else 6, Random().randrange(10**6)
    random = Random(seed)
    record_property("seed", seed)
    async with writing(Place(url=server.url)) as writer:
        for _ in range(cuts):
            await writer.answers(6)
            await asyncio.to_thread(server.kill)
            await writer.until(lambda: writer.storage.now is AWAY)
            left = cut_file(server, random)
            epoch = writer.storage.epoch
            # What the server makes of the cut file is looked at first, where no writer sees it.
            apart = replace(server, port=0)
            await asyncio.to_thread(apart.start)
            try:
                check(apart, [])
            finally:
                await asyncio.to_thread(apart.kill)
            await asyncio.to_thread(server.start)
            await writer.is_back(epoch)
            try:
                check(server, writer.answered)
            except AssertionError as exc:
                raise AssertionError(f"seed {seed}, {left} bytes left") from exc


async def test_a_writer_that_gives_nothing_back_is_noticed(
    server: RedisServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The check above is able to fail: without the tail, acknowledged lines are missing."""
    monkeypatch.setattr(Tail, "missing", lambda *_: [])
    async with writing(Place(url=server.url)) as writer:
        await writer.answers(6)
        epoch = writer.storage.epoch
        await asyncio.to_thread(server.kill)
        await writer.until(lambda: writer.storage.now is AWAY)
        cut_file(server, Random(1))
        await asyncio.to_thread(server.start)
        await writer.is_back(epoch)
        with pytest.raises(AssertionError, match="an acknowledged line is missing"):
            check(server, writer.answered)


@pytest.mark.parametrize("name", sorted(binaries()))
@pytest.mark.parametrize("replicas", [1, 0])
async def test_a_primary_that_dies_after_its_replica_was_cut_off(tmp_path: Path, name: str, replicas: int) -> None:
    """With one replica to wait for, the promoted replica has all that was acknowledged; a writer that does not wait
    loses lines.
    """
    with (
        redis_server(tmp_path / "first", name=name, repl_diskless_sync_delay="0") as first,
        cut_link(first.port) as link,
        redis_server(tmp_path / "second", name=name, replicaof=f"127.0.0.1 {link.port}") as second,
    ):
        await asyncio.to_thread(follows, second)
        async with writing(Place(url=first.url, replicas=replicas)) as writer:
            await writer.answers(30)
            link.swallow()
            await (writer.answers(30) if replicas == 0 else writer.until(lambda: writer.storage.now is AWAY))
            await asyncio.to_thread(first.kill)
        with second.client() as own:
            own.replicaof("NO", "ONE")
        if replicas:
            check(second, writer.answered)
        else:
            with pytest.raises(AssertionError, match="an acknowledged line is missing"):
                check(second, writer.answered)


def follows(replica: RedisServer) -> None:
    """Wait until a replica has all that its primary has."""
    with replica.client() as client:
        deadline = time.monotonic() + PATIENT
        while client.info("replication")["master_link_status"] != "up":
            assert time.monotonic() < deadline, "the replica does not follow"


async def test_a_server_emptied_under_its_writer_is_filled_again(server: RedisServer) -> None:
    """An epoch below the writer's own is no other writer: it is a server that lost its newest writes, here all."""
    async with writing(Place(url=server.url)) as writer:
        await writer.answers(9)
        epoch = writer.storage.epoch
        with server.client() as client:
            client.flushall()
        await writer.is_back(epoch)
        await writer.answers(9)
    assert min(check(server, writer.answered)) > (epoch or 0)


async def test_a_server_that_comes_back_as_another_is_not_written_to(server: RedisServer) -> None:
    """Where other lines stand in the place of acknowledged ones, the writer stops and says what it found."""
    journal = await leading(Place(url=server.url, lease_ms=0), storage := Storage())
    await append(journal, draft(1), draft(2))
    with server.client() as client:
        client.flushall()
    other = await asyncio.to_thread(RedisJournal.open, Place(url=server.url, lease_ms=0), owner="other")
    await append(other, draft(1, sender="other"))
    await other.close()
    await asyncio.to_thread(server.kill)
    waits = asyncio.create_task(append(journal, draft(3)))
    await Writer(journal, storage).until(lambda: storage.now is AWAY)
    await asyncio.to_thread(server.start)
    with pytest.raises(
        JournalDamaged, match=r"came back with 1 lines, not all of them those acknowledged up to line 2"
    ):
        await waits
    await journal.close()


def test_the_tail_gives_what_is_missing_and_nothing_else() -> None:
    """It knows a journal that lacks lines from one that has others, and one that lacks more than it keeps."""
    lines = [draft(n).as_line(n, received_unix_ms=n) for n in range(1, 9)]
    heads = [GENESIS]
    for line in lines:
        heads.append(chained(heads[-1], line))
    tail = Tail(0, GENESIS, most=4)
    tail.add(lines[:3])
    tail.add(lines[3:])
    assert tail.missing(8, heads.__getitem__) == []
    assert tail.missing(9, heads.__getitem__) == []
    assert tail.missing(5, heads.__getitem__) == lines[5:]
    assert tail.missing(4, heads.__getitem__) == lines[4:]
    for last, head_at in ((3, heads.__getitem__), (6, lambda _number: GENESIS), (8, lambda _number: None)):
        with pytest.raises(
            JournalDamaged, match=r"came back with .* lines, not all of them those acknowledged up to line 8"
        ):
            tail.missing(last, head_at)


async def test_an_idle_writer_notices_that_its_server_is_away_or_taken(server: RedisServer) -> None:
    """Without a single fact it is said that the server is gone; a lease that was lost ends the writer."""
    storage = Storage()
    journal = await leading(Place(url=server.url, lease_ms=0), storage)
    keeping = asyncio.create_task(journal.keep())
    writer = Writer(journal, storage)
    await asyncio.to_thread(server.kill)
    await writer.until(lambda: storage.now is AWAY)
    await asyncio.to_thread(server.start)
    await writer.until(lambda: storage.now is BACK)
    second = await asyncio.to_thread(RedisJournal.open, Place(url=server.url), owner="other")
    with pytest.raises(JournalTaken):
        await asyncio.wait_for(keeping, PATIENT)
    await second.close()
    await journal.close()


async def test_it_is_said_when_an_answer_takes_long_and_only_then(
    server: RedisServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A line that is answered in time is nothing to talk of; one that waits longer than the patience is."""
    storage, told = Storage(), list[StorageState]()
    journal = await leading(Place(url=server.url), storage)
    storage.subscribe("test", told.append)
    try:
        monkeypatch.setattr(holding, "PATIENCE_S", PATIENT)
        await append(journal, draft(1))
        assert told == []
        monkeypatch.setattr(holding, "PATIENCE_S", PATIENCE_S)
        with server.client() as other:
            other.client_pause(round(2000 * PATIENCE_S))
        await append(journal, draft(2))
    finally:
        await journal.close()
    assert told == [AWAY, BACK]


async def test_a_writer_that_stops_waits_no_longer(server: RedisServer) -> None:
    """Asked to give up while the server is away, an append ends with what to do."""
    journal = await leading(Place(url=server.url), storage := Storage())
    server.kill()
    waits = asyncio.create_task(append(journal, draft(1)))
    await Writer(journal, storage).until(lambda: storage.now is AWAY)
    storage.give_up()
    with pytest.raises(JournalAway, match=r"did not come back: start it, and start again"):
        await waits
    await journal.close()


def test_it_is_said_within_a_second() -> None:
    """The beat and the patience with its answer add up to less than a second."""
    assert BEAT_S + PATIENCE_S < 1
    assert OK.state == BACK.state


def test_a_server_that_is_not_there_is_asked_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody connects again behind the journal's back: it looks what is there before it sends anything again."""
    tried = list[object]()

    def counted(_: socket.socket, address: Any) -> None:
        tried.append(address)
        raise TimeoutError

    monkeypatch.setattr(socket.socket, "connect", counted)
    with pytest.raises(JournalAway):
        RedisClient(Place(url="redis://127.0.0.1:1/0")).ask("PING")
    assert len(tried) == 1


def test_a_server_that_knows_the_second_protocol_alone_is_enough() -> None:
    """No HELLO is sent, by which a client asks for the third version (RESP3)."""
    with socket.create_server(("127.0.0.1", 0)) as listener, ThreadPoolExecutor() as pool:
        client = RedisClient(Place(url=f"redis://127.0.0.1:{listener.getsockname()[1]}/0"))
        asked = pool.submit(client.ask, "PING")
        connection, _ = listener.accept()
        with connection:
            heard = b""
            while b"PING" not in heard:
                commands = connection.recv(1024)
                connection.sendall(b"+OK\r\n" * commands.count(b"*"))
                heard += commands
        asked.result()
        client.close()
    assert b"HELLO" not in heard
