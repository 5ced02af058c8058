"""What every journal must do: a back end's test class inherits one of the two contracts and says how to open it."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Sequence
from pathlib import Path

import pytest

from tallywire.core.errors import JournalFailed
from tallywire.shell.journal.port import Draft, Journal, Line

NOW = 1_750_000_000_000


def draft(sequence: int, *, sender: str = "pad-1", body: bytes = b"{}", refusal: bytes | None = None) -> Draft:
    """Give a draft with only what a test cares about."""
    return Draft(sender=sender, sequence=sequence, body=body, refusal=refusal)


def numbers(lines: Sequence[Line]) -> list[int]:
    """Give the numbers of the lines."""
    return [line.number for line in lines]


async def append(journal: Journal, *drafts: Draft) -> Sequence[Line]:
    """Append the drafts at the same received time."""
    return await journal.append(drafts, received_unix_ms=NOW)


async def started(*tasks: asyncio.Task[Sequence[Line]]) -> None:
    """Let tasks that were just made run up to their first wait."""
    await asyncio.sleep(0)
    assert not any(task.done() and task.exception() for task in tasks)


class JournalContract:
    """For every back end. A subclass overrides `open_journal`."""

    async def open_journal(self, place: Path) -> Journal:
        """Open the journal that belongs to `place`, an empty folder of the test's own; new when it is not there."""
        raise NotImplementedError

    @pytest.fixture
    async def journal(self, tmp_path: Path) -> AsyncIterator[Journal]:
        """Give a new journal, closed after the test."""
        journal = await self.open_journal(tmp_path)
        yield journal
        await journal.close()

    async def test_numbers_count_from_one_without_a_gap(self, journal: Journal) -> None:
        """Lines are numbered from 1, across appends and inside one."""
        first = await append(journal, draft(1))
        rest = await append(journal, draft(2), draft(3))
        assert numbers([*first, *rest]) == [1, 2, 3]

    async def test_a_line_keeps_what_the_draft_said(self, journal: Journal) -> None:
        """Every field of a draft comes back byte for byte, from append and from read."""
        drafts = [
            draft(7, sender="jüri-ß", body=b'{"reps":1}'),
            draft(2**53, body=b"\x00\xff", refusal=b'{"code":"fact_refused"}'),
            draft(0, body=b"", refusal=b""),
        ]
        expected = [d.as_line(n, received_unix_ms=NOW) for n, d in enumerate(drafts, start=1)]
        assert list(await append(journal, *drafts)) == expected
        assert list(journal.read()) == expected

    async def test_each_append_keeps_its_own_received_time(self, journal: Journal) -> None:
        """Appends that are committed together still carry their own received times."""
        appends = [journal.append([draft(n)], received_unix_ms=NOW + n) for n in range(20)]
        await asyncio.gather(*appends)
        assert all(line.received_unix_ms == NOW + line.sequence for line in journal.read())

    async def test_a_new_journal_is_empty(self, journal: Journal) -> None:
        """A new journal has no lines, no watermarks and no notes."""
        assert list(journal.read()) == []
        assert dict(journal.watermarks()) == {}
        assert journal.note("mode") is None

    async def test_an_append_of_nothing_writes_nothing(self, journal: Journal) -> None:
        """An empty append gives no lines and uses no number."""
        assert list(await append(journal)) == []
        assert numbers(await append(journal, draft(1))) == [1]

    async def test_concurrent_appends_stay_whole_and_in_the_order_of_the_calls(self, journal: Journal) -> None:
        """The lines of one append follow each other, and calls are numbered in the order they were made."""
        calls = [[draft(2 * n, sender=f"pad-{n % 7}"), draft(2 * n + 1, sender=f"pad-{n % 7}")] for n in range(100)]
        answers = await asyncio.gather(*(append(journal, *drafts) for drafts in calls))
        assert [number for lines in answers for number in numbers(lines)] == list(range(1, 201))
        assert [line for lines in answers for line in lines] == list(journal.read())

    async def test_read_starts_after_a_number(self, journal: Journal) -> None:
        """Reading after n gives n + 1 on, and nothing when n is the last or beyond."""
        await append(journal, *(draft(n) for n in range(5)))
        assert numbers(list(journal.read(after=3))) == [4, 5]
        assert list(journal.read(after=5)) == list(journal.read(after=99)) == []

    async def test_a_long_append_is_read_back_whole(self, journal: Journal) -> None:
        """One append of thousands of drafts stays in order through every internal chunk."""
        answered = await append(journal, *(draft(n, body=str(n).encode()) for n in range(2_501)))
        read = list(journal.read())
        assert read == list(answered)
        assert [line.body for line in read] == [str(n).encode() for n in range(2_501)]

    async def test_reading_goes_on_while_lines_are_appended(self, journal: Journal) -> None:
        """A reader that is half way sees no line twice, misses none, and also gets those appended meanwhile."""
        await append(journal, *(draft(n) for n in range(1_200)))
        reader = journal.read()
        seen = [next(reader) for _ in range(700)]
        pending = asyncio.create_task(append(journal, draft(5_000), draft(5_001)))
        await started(pending)
        seen += [next(reader) for _ in range(400)]
        await pending
        assert numbers([*seen, *reader]) == list(range(1, 1_203))

    async def test_watermarks_are_the_highest_sequence_of_each_sender(self, journal: Journal) -> None:
        """A sender's watermark is its highest sequence, refused facts counted, in whatever order they came."""
        await append(journal, draft(9), draft(4), draft(1, sender="pad-2", refusal=b"{}"))
        assert dict(journal.watermarks()) == {"pad-1": 9, "pad-2": 1}

    async def test_senders_do_not_share_sequences(self, journal: Journal) -> None:
        """Two senders may use the same sequence."""
        lines = await append(journal, draft(1, sender="pad-1"), draft(1, sender="pad-2"))
        assert numbers(lines) == [1, 2]

    async def test_a_sequence_used_twice_stops_the_journal(self, journal: Journal) -> None:
        """A second line under a sender's sequence fails, and from then on everything is refused."""
        await append(journal, draft(1))
        with pytest.raises(JournalFailed):
            await append(journal, draft(1, body=b'{"other":1}'))
        with pytest.raises(JournalFailed):
            await append(journal, draft(2))
        with pytest.raises(JournalFailed):
            list(journal.read())
        with pytest.raises(JournalFailed):
            journal.set_note("mode", "live")

    async def test_a_sequence_used_twice_in_one_append_fails(self, journal: Journal) -> None:
        """Two drafts of one append under the same sequence fail together."""
        with pytest.raises(JournalFailed):
            await append(journal, draft(1), draft(1))

    async def test_a_note_is_kept(self, journal: Journal) -> None:
        """A note comes back, and may be set to the same value again."""
        journal.set_note("mode", "live")
        journal.set_note("mode", "live")
        assert journal.note("mode") == "live"

    async def test_notes_are_kept_apart(self, journal: Journal) -> None:
        """Each of three has its own value."""
        notes = {"mode": "live", "competition": "Trials", "day": "first"}
        for key, value in notes.items():
            journal.set_note(key, value)
        assert {key: journal.note(key) for key in notes} == notes

    async def test_a_note_cannot_change(self, journal: Journal) -> None:
        """Setting a note to another value is refused with both values named, and the journal stays in use."""
        journal.set_note("mode", "live")
        with pytest.raises(JournalFailed, match=r"found mode 'live'.*expected 'rehearsal'"):
            journal.set_note("mode", "rehearsal")
        assert journal.note("mode") == "live"
        assert numbers(await append(journal, draft(1))) == [1]

    async def test_a_cancelled_append_leaves_the_journal_sound(self, journal: Journal) -> None:
        """After a waiting task is cancelled, later appends go on without a gap, its draft written or not."""
        task = asyncio.create_task(append(journal, draft(1)))
        await started(task)
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
        last = (await append(journal, draft(2)))[-1].number
        assert numbers(list(journal.read())) == list(range(1, last + 1))

    async def test_close_finishes_what_was_queued(self, journal: Journal) -> None:
        """Appends that were made before close get their lines."""
        tasks = [asyncio.create_task(append(journal, draft(n))) for n in range(30)]
        await started(*tasks)
        await journal.close()
        assert [numbers(await task) for task in tasks] == [[n] for n in range(1, 31)]

    async def test_a_closed_journal_refuses_everything(self, journal: Journal) -> None:
        """After close, which may be called twice, appends and reads raise JournalFailed that says so."""
        await journal.close()
        await journal.close()
        with pytest.raises(JournalFailed, match="closed"):
            await append(journal, draft(1))
        with pytest.raises(JournalFailed, match="closed"):
            list(journal.read())
        with pytest.raises(JournalFailed, match="closed"):
            journal.watermarks()


class DurableJournalContract(JournalContract):
    """For a back end that outlives its process: opening the same place again gives what was there."""

    async def test_lines_watermarks_and_notes_outlive_the_journal(self, journal: Journal, tmp_path: Path) -> None:
        """After close and open everything is as it was, and numbers go on."""
        lines = list(await append(journal, draft(1), draft(2, refusal=b"{}")))
        journal.set_note("mode", "live")
        await journal.close()
        again = await self.open_journal(tmp_path)
        assert list(again.read()) == lines
        assert dict(again.watermarks()) == {"pad-1": 2}
        assert again.note("mode") == "live"
        assert numbers(await append(again, draft(3))) == [3]
        await again.close()

    async def test_a_failed_append_leaves_nothing(self, journal: Journal, tmp_path: Path) -> None:
        """An append that failed half way is not there after opening again, and the journal accepts lines again."""
        await append(journal, draft(1))
        with pytest.raises(JournalFailed):
            await append(journal, draft(2), draft(1))
        await journal.close()
        again = await self.open_journal(tmp_path)
        assert [line.sequence for line in again.read()] == [1]
        assert numbers(await append(again, draft(2))) == [2]
        await again.close()

    async def test_a_long_failed_append_leaves_nothing(self, journal: Journal, tmp_path: Path) -> None:
        """All or none also holds for an append too long for one statement of the back end."""
        with pytest.raises(JournalFailed):
            await append(journal, *(draft(n) for n in range(2_500)), draft(0))
        await journal.close()
        again = await self.open_journal(tmp_path)
        assert list(again.read()) == []
        await again.close()
