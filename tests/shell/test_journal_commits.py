"""When the SQLite journal answers, what it commits together, and what it does after an error."""

from __future__ import annotations

import asyncio
import sqlite3
from pathlib import Path

import pytest

from shell.journal_contract import append, draft, numbers
from shell.journal_faults import PATIENCE_S, Hold, SmallDisk, commits, early_connection, held_connection
from tallywire.core.errors import JournalFailed
from tallywire.shell.journal.port import Line
from tallywire.shell.journal.sqlite import SqliteJournal


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give the path of a journal that is not there yet."""
    return tmp_path / "heats.journal"


async def commit_reached(hold: Hold) -> None:
    """Wait until the journal's thread is about to commit."""
    assert await asyncio.to_thread(hold.reached.wait, PATIENCE_S)


async def turn_the_loop() -> None:
    """Let everything run that can run."""
    for _ in range(10):
        await asyncio.sleep(0)


async def is_answered_early(path: Path, factory: type[sqlite3.Connection], hold: Hold) -> bool:
    """Tell whether an append is answered although no commit has run."""
    journal = SqliteJournal.open(path, factory=factory)
    answer = asyncio.create_task(append(journal, draft(1)))
    reached = asyncio.create_task(asyncio.to_thread(hold.reached.wait, PATIENCE_S))
    await asyncio.wait({answer, reached}, return_when=asyncio.FIRST_COMPLETED)
    await turn_the_loop()
    early = answer.done()
    hold.reached.set()
    hold.release.set()
    assert numbers(await answer) == [1]
    await reached
    await journal.close()
    return early


async def test_no_line_is_answered_before_its_commit(path: Path) -> None:
    """While the commit waits the append waits; once the commit has run the append is answered."""
    hold = Hold()
    assert not await is_answered_early(path, held_connection(hold), hold)


async def test_the_order_check_finds_a_journal_that_answers_early(path: Path) -> None:
    """The check above is able to fail: it finds a writer that answers before it commits."""
    hold = Hold()
    assert await is_answered_early(path, early_connection(hold), hold)


async def test_what_queues_during_a_commit_is_committed_together(path: Path) -> None:
    """Appends made while a commit runs share the next one, whatever their number."""
    hold = Hold()
    journal = SqliteJournal.open(path, factory=held_connection(hold))
    first = asyncio.create_task(append(journal, draft(0)))
    await commit_reached(hold)
    rest = [asyncio.create_task(append(journal, draft(n))) for n in range(1, 51)]
    await turn_the_loop()
    hold.release.set()
    answers = await asyncio.gather(first, *rest)
    assert [numbers(lines) for lines in answers] == [[n] for n in range(1, 52)]
    assert len([sql for sql in hold.statements if commits(sql)]) == 2
    await journal.close()


async def test_a_cancelled_append_does_not_cost_the_others_their_answer(path: Path) -> None:
    """When one task of a group is cancelled the rest of the group is answered, and the cancelled line stands."""
    hold = Hold()
    journal = SqliteJournal.open(path, factory=held_connection(hold))
    first = asyncio.create_task(append(journal, draft(0)))
    await commit_reached(hold)
    gone, stays = (asyncio.create_task(append(journal, draft(n))) for n in (1, 2))
    await turn_the_loop()
    gone.cancel()
    await turn_the_loop()
    hold.release.set()
    assert [numbers(await task) for task in (first, stays)] == [[1], [3]]
    assert numbers(list(journal.read())) == [1, 2, 3]
    await journal.close()


async def test_an_error_fails_everything_pending_and_later(path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """After one failed commit every waiting and later append is refused with the cause, and SQLite is left alone."""
    hold = Hold(fault=sqlite3.OperationalError("disk I/O error"))
    journal = SqliteJournal.open(path, factory=held_connection(hold))
    appends = [asyncio.create_task(append(journal, draft(0)))]
    await commit_reached(hold)
    appends += [asyncio.create_task(append(journal, draft(n))) for n in range(1, 11)]
    await turn_the_loop()
    hold.release.set()
    errors = await asyncio.gather(*appends, return_exceptions=True)
    for error in errors:
        assert isinstance(error, JournalFailed)
        assert error.__cause__ is hold.fault
    with pytest.raises(JournalFailed, match=r"disk I/O error.*start again to recover from disk"):
        await append(journal, draft(99))
    assert [commits(sql) for sql in hold.statements].count(True) == 1
    assert [record.message for record in caplog.records] == ["the journal failed"]
    await journal.close()


async def test_after_an_error_a_new_opening_recovers_what_was_answered(path: Path) -> None:
    """The lines answered before the error are there after opening again, and lines are accepted again."""
    hold = Hold()
    hold.release.set()
    journal = SqliteJournal.open(path, factory=held_connection(hold))
    answered = list(await append(journal, draft(1), draft(2)))
    hold.fault = sqlite3.OperationalError("disk I/O error")
    with pytest.raises(JournalFailed):
        await append(journal, draft(3))
    await journal.close()
    again = SqliteJournal.open(path)
    assert list(again.read()) == answered
    assert numbers(await append(again, draft(3))) == [3]
    await again.close()


async def test_a_full_disk_loses_nothing_that_was_answered(path: Path) -> None:
    """When SQLite reports the disk full the journal stops, and every answered line is there after opening again."""
    journal = SqliteJournal.open(path, factory=SmallDisk)
    answered: list[Line] = []
    with pytest.raises(JournalFailed, match="full"):
        for n in range(1_000):
            answered += await append(journal, draft(n, body=b"x" * 900))
    await journal.close()
    again = SqliteJournal.open(path)
    assert answered
    assert list(again.read()) == answered
    await again.close()


async def test_a_draft_that_sqlite_cannot_hold_stops_the_journal(path: Path) -> None:
    """An error that is not SQLite's own, such as a sequence past 64 bits, stops the journal in the same way."""
    journal = SqliteJournal.open(path)
    with pytest.raises(JournalFailed) as caught:
        await append(journal, draft(2**63))
    assert isinstance(caught.value.__cause__, OverflowError)
    with pytest.raises(JournalFailed):
        await append(journal, draft(1))
    await journal.close()


def test_a_loop_that_closed_does_not_stop_the_journal(path: Path) -> None:
    """A line whose asker's event loop has closed is written all the same, and another loop goes on."""
    hold = Hold()
    journal = SqliteJournal.open(path, factory=held_connection(hold))

    async def ask_and_leave() -> None:
        asyncio.create_task(append(journal, draft(1)))  # noqa: RUF006
        await commit_reached(hold)

    asyncio.run(ask_and_leave())
    hold.release.set()
    assert numbers(asyncio.run(append(journal, draft(2)))) == [2]
    assert numbers(list(journal.read())) == [1, 2]
    asyncio.run(journal.close())
