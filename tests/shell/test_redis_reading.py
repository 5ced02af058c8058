"""Reading a journal on Redis as a stranger does: damage is named, what is sound is saved, a writer may go on."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from shell.journal_contract import append, draft
from shell.redis_servers import RedisServer, redis_server
from shell.test_redis_away import Writer, leading
from tallywire.core.errors import JournalDamaged, JournalFailed, JournalTaken, TallywireError
from tallywire.shell.journal.on_redis.client import Place
from tallywire.shell.journal.on_redis.fence import script
from tallywire.shell.journal.on_redis.follower import LINES, MARKS, NOTES, STATE
from tallywire.shell.journal.on_redis.journal import RedisJournal
from tallywire.shell.journal.on_redis.lines import make_owner
from tallywire.shell.journal.on_redis.reading import look, salvage, sound_lines
from tallywire.shell.journal.on_redis.shared import Shared
from tallywire.shell.journal.opening import RedisOptions, shared
from tallywire.shell.journal.reading import sound_lines as sound_in_file
from tallywire.shell.storage import Storage

NOTE = {"mode": "live"}


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RedisServer]:
    """Run one server for all tests of this module; files synced by nobody, since none of these pulls a plug."""
    with redis_server(tmp_path_factory.mktemp("redis"), appendfsync="no") as server:
        yield server


@pytest.fixture
def place(server: RedisServer) -> Place:
    """Give an empty database."""
    with server.client() as client:
        client.flushall()
    return Place(url=server.url, lease_ms=0)


async def four_lines(place: Place) -> None:
    """Write four lines of two senders, one of them refused, and a note."""
    journal = RedisJournal.open(place, owner=make_owner())
    journal.set_note("mode", "live")
    await append(journal, draft(1), draft(1, sender="pad-2", refusal=b"{}"), draft(2), draft(3, sender="pad-2"))
    await journal.close()


def edited(server: RedisServer, at: int, field: bytes, value: bytes) -> None:
    """Write the stream anew with one field of one line changed."""
    with server.client() as client:
        entries = client.xrange(LINES)
        client.delete(LINES)
        for number, (name, fields) in enumerate(entries, start=1):
            client.xadd(LINES, fields | ({field: value} if number == at else {}), id=name)


async def test_a_sound_journal_is_said_to_be_sound(place: Place, tmp_path: Path) -> None:
    """Lines, notes and epoch are given; saved to a file, every line is there with its refusal."""
    await four_lines(place)
    found = await asyncio.to_thread(look, place)
    assert (found.last, found.epoch, found.faults, found.notes) == (4, 1, [], NOTE)
    saved = await asyncio.to_thread(salvage, place, tmp_path / "journal.sqlite")
    assert (saved.written, saved.gaps) == (4, {"pad-2": [2]})
    kept = await asyncio.to_thread(sound_in_file, tmp_path / "journal.sqlite")
    assert kept == sound_lines(place)


@pytest.mark.parametrize(
    ("command", "said", "sound"),
    [
        (("XDEL", LINES, "2-1"), "line 2 missing", [range(1, 2), range(4, 5)]),
        (("XDEL", LINES, "4-1"), "line 4 missing: the state says 4", [range(1, 4)]),
        (("XTRIM", LINES, "MAXLEN", "=", 1), "lines 1 to 3 missing", []),
        (("DEL", STATE), "lines 1 to 4 added: the state says 0", [range(1, 5)]),
        (("DEL", LINES), "lines 1 to 4 missing: the state says 4", []),
        (("HSET", STATE, "head", "other"), "the chain up to line 4 is not the one that the state has", [range(1, 5)]),
        (("HSET", MARKS, "pad-1", "9"), 'the watermark of sender "pad-1" is 9, its lines say 2', [range(1, 5)]),
        (("HDEL", MARKS, "pad-2"), 'the watermark of sender "pad-2" is None, its lines say 3', [range(1, 5)]),
        (("XADD", LINES, "5-1", "no", "line"), "line 5 is not sound: its checksum does not fit", [range(1, 5)]),
    ],
    ids=str,
)
async def test_what_another_program_changed_is_named(
    place: Place, server: RedisServer, command: tuple[str | int, ...], said: str, sound: list[range]
) -> None:
    """The first fault says what is missing, too many or not sound, and the runs of sound lines are given."""
    await four_lines(place)
    with server.client() as client:
        client.execute_command(*command)
    found = look(place)
    assert found.faults[0] == said
    assert found.sound == sound
    with pytest.raises(JournalDamaged, match="`tallywire verify --redis URL` says all"):
        sound_lines(place)


@pytest.mark.parametrize(
    ("field", "value"),
    [(b"body", b"[]"), (b"sender", b"pad-3"), (b"sequence", b"7"), (b"sequence", b"x"), (b"received", b"1")],
)
async def test_a_line_that_was_edited_is_the_only_one_lost(
    place: Place, server: RedisServer, tmp_path: Path, field: bytes, value: bytes
) -> None:
    """The chain that stands with it proves those after it, and the salvage says whose number is missing."""
    await four_lines(place)
    edited(server, 3, field, value)
    assert look(place).faults == ["line 3 is not sound: its checksum does not fit"]
    saved = await asyncio.to_thread(salvage, place, tmp_path / "journal.sqlite")
    assert saved.found.sound == [range(1, 3), range(4, 5)]
    assert saved.written == 3


async def test_epochs_never_fall(place: Place, server: RedisServer) -> None:
    """A line under an epoch below that of the line before it is named."""
    for sequence in (1, 2):
        journal = RedisJournal.open(place, owner=make_owner())
        await append(journal, draft(sequence))
        await journal.close()
    with server.client() as client:
        (_, first), (_, second) = client.xrange(LINES)
        client.delete(LINES)
        client.xadd(LINES, first, id="1-2")
        client.xadd(LINES, second, id="2-1")
    assert look(place).faults == ["line 2 was written under epoch 1, after one under epoch 2"]


async def test_a_writer_goes_on_while_its_journal_is_read(place: Place) -> None:
    """Every reading is of one instant: no line, state or watermark of a later one is taken for damage."""
    storage = Storage()
    journal = await leading(replace(place, lease_ms=3000), storage)
    writer = Writer(journal, storage)
    writing = asyncio.create_task(writer.write())
    read = 0
    for _ in range(20):
        await writer.answers(3)
        found = await asyncio.to_thread(look, place)
        assert found.faults == []
        assert found.last > read
        read = found.last
    writing.cancel()
    await journal.close()
    await asyncio.gather(writing, return_exceptions=True)


def test_an_empty_database_is_said_plainly(place: Place) -> None:
    """No journal is no damage."""
    with pytest.raises(TallywireError, match=r"found no journal at .*, expected the Redis database of a server"):
        look(place)


@pytest.mark.parametrize("is_fenced", [True, False])
async def test_a_former_writer_changes_nothing_that_is_shared(
    place: Place, monkeypatch: pytest.MonkeyPatch, is_fenced: bool
) -> None:
    """Notes and links are refused from a writer whose epoch is over; without the comparison they are written."""
    if not is_fenced:
        mutant = script("keep").replace(b"if epoch ~= ARGV[1] then", b"if false then")
        assert mutant != script("keep")
        for module in ("lines", "shared"):
            monkeypatch.setattr(f"tallywire.shell.journal.on_redis.{module}.script", changed(mutant))
    first, second = (RedisJournal.open(place, owner=make_owner()) for _ in range(2))
    before, now = Storage(), Storage()
    before.lead(first.epoch)
    now.lead(second.epoch)
    Shared(place, "links", now).write(b"new")
    if is_fenced:
        with pytest.raises(JournalTaken, match=r"found epoch 2 .*, expected 1: another writer has taken over"):
            Shared(place, "links", before).write(b"old")
        with pytest.raises(JournalTaken, match="found epoch 2"):
            first.set_note("mode", "live")
        assert (Shared(place, "links", now).read(), second.notes()) == (b"new", {})
    else:
        Shared(place, "links", before).write(b"old")
        first.set_note("mode", "live")
        assert (Shared(place, "links", now).read(), second.notes()) == (b"old", NOTE)
    with pytest.raises(JournalTaken, match="found a reader"):
        shared(RedisOptions(url=place.url), "links").write(b"old")
    shared(RedisOptions(url=place.url), "links", now).write(b"newest")
    assert shared(RedisOptions(url=place.url), "links").read() == b"newest"
    second.set_note("competition", "Trials")
    second.set_note("day", "first")
    assert {**second.notes(), **NOTE} == {**NOTE, "competition": "Trials", "day": "first"}
    for journal in (first, second):
        await journal.close()


def changed(keep: bytes) -> object:
    """Give what loads scripts, with another one in the place of `keep`."""
    return lambda name: keep if name == "keep" else script(name)


async def test_an_emptied_server_is_given_the_notes_and_what_is_shared(place: Place, server: RedisServer) -> None:
    """After FLUSHALL under a writer, lines, notes and what hears of a new epoch are there again, under that epoch."""
    storage = Storage()
    journal = await leading(replace(place, lease_ms=3000), storage)
    links = Shared(place, "links", storage)
    links.write(b"links")
    storage.at_epoch(lambda: links.write(b"links"))
    journal.set_note("mode", "live")
    await append(journal, draft(1))
    keeping = asyncio.create_task(journal.keep())
    with server.client() as client:
        client.flushall()
    await Writer(journal, storage).is_back(1)
    await append(journal, draft(2))
    found = await asyncio.to_thread(look, place)
    assert (found.faults, found.last, found.notes) == ([], 2, NOTE)
    assert links.read() == b"links"
    with server.client() as client:
        client.hset(NOTES, "mode", "rehearsal")
        client.hset(STATE, "epoch", "0")
    with pytest.raises(JournalFailed, match="found mode 'rehearsal' in the journal, expected 'live'"):
        await asyncio.wait_for(keeping, 30)
    await journal.close()
