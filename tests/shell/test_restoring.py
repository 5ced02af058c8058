"""A start's two ways to the same books: lines that were read when the journal was opened, and lines read afterwards."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.examples import competition_of, recorded
from shell.stage import frame_now, live_on
from tallywire.core.facts import Fact
from tallywire.shell.clock import FakeClock
from tallywire.shell.journal.chain import GENESIS, chained, following
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.journal.port import Draft, Line
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.shell.live import LiveCompetition
from tallywire.shell.public_tape import KEPT_MS, TOLD_MS
from tallywire.shell.restoring import OldLines
from tallywire.wire.fact_lines import fact_line

HEAT = "women-2"
FACTS = recorded("saltmarsh-women-2")
NOW_MS = 1_900_000_000_000
OLD_MS = NOW_MS - 3_600_000
LINES = st.builds(
    Line,
    number=st.integers(1, 9),
    received_unix_ms=st.integers(-1, 2**53),
    sender=st.text(max_size=3),
    sequence=st.integers(0, 9),
    body=st.binary(max_size=4),
    refusal=st.none() | st.binary(max_size=4),
)


@given(lines=st.lists(LINES, max_size=5), first=st.integers(1, 9), wrong=st.integers(0, 9))
def test_rows_follow_as_far_as_their_chain_and_numbers_do(lines: list[Line], first: int, wrong: int) -> None:
    """The quick way through many rows stops where a chain or a number is the first that is wrong, and at no other."""
    head, rows, expected = GENESIS, list[Sequence[object]](), len(lines)
    for place, line in enumerate(lines):
        head = chained(head, line) if place != wrong else bytes(32)
        rows.append((*line, head))
        if (place == wrong or line.number != first + place) and expected == len(lines):
            expected = place
    assert following(GENESIS, rows, number=first) == expected


@pytest.mark.parametrize("broken", [(1, 0, "a", 1, "text", None, b""), (1, 0, 7, 1, b"", None, b"")])
def test_a_value_of_another_type_does_not_follow(broken: tuple[object, ...]) -> None:
    """In a damaged file a column may hold anything."""
    assert following(GENESIS, [broken], number=1) == 0


def drafts(facts: Sequence[Fact]) -> list[Draft]:
    """Lines of these facts; every seventh was refused."""
    return [
        Draft(sender=f.sender, sequence=f.sequence, body=fact_line(f), refusal=b"{}" if n % 7 == 3 else None)
        for n, f in enumerate(facts)
    ]


def known(live: LiveCompetition) -> tuple[object, ...]:
    """What a start knows."""
    senders = live.senders
    marks = {fact.sender: (senders.watermark(fact.sender), senders.taken(fact.sender)) for fact in FACTS}
    refused = [senders.is_refused(fact.sender, fact.sequence) for fact in FACTS]
    owners = [senders.owner(fact.id) for fact in FACTS]
    return live.lines, marks, refused, owners, frame_now(live, "heat", HEAT), frame_now(live, "gaps", HEAT)


@pytest.mark.parametrize("recent", [0, 1, 40])
async def test_a_journal_read_at_its_opening_is_as_one_read_afterwards(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, recent: int
) -> None:
    """Books, senders and count of lines are the same, with refused facts, and with some of the last minute."""
    monkeypatch.setattr("tallywire.shell.journal.examine._CHUNK", 100)
    facts = Random(recent).sample(FACTS, k=len(FACTS))
    old, new = drafts(facts)[: len(facts) - recent], drafts(facts)[len(facts) - recent :]
    memory, file = MemoryJournal(), SqliteJournal.open(tmp_path / "journal.sqlite")
    for journal in (memory, file):
        await journal.append(old, received_unix_ms=OLD_MS)
        await journal.append(new, received_unix_ms=NOW_MS - 1000)
    await file.close()
    read = OldLines(until_ms=NOW_MS - TOLD_MS)
    again = SqliteJournal.open(tmp_path / "journal.sqlite", reader=read)
    assert read.facts and bool(read.recent) == bool(recent)
    work, clock = competition_of("saltmarsh"), FakeClock(unix_ms=NOW_MS)
    assert known(live_on(again, clock=clock, work=work, read=read)) == known(live_on(memory, clock=clock, work=work))
    assert not read.facts and not read.recent
    await again.close()


HOUR_MS = 3_600_000
CHUNK = 50


def times_of(random: Random, count: int) -> list[int]:
    """When so many lines were received, by a clock that was set now and then, days ahead and back."""
    at_ms, times = NOW_MS - 9 * HOUR_MS, list[int]()
    while len(times) < count:
        at_ms = random.choice((at_ms + 5_000, NOW_MS + random.randrange(-48, 49) * HOUR_MS, NOW_MS - 90_000))
        for _ in range(random.choice((20, 150, 400))):
            at_ms += random.randrange(700)
            times.append(at_ms)
    return times[:count]


@pytest.mark.parametrize("seed", range(20))
def test_only_the_last_while_is_kept_as_it_came(seed: int) -> None:
    """Whatever clock they are from: each line is read once, in order, and few wait, but all of the last while do."""
    times = times_of(Random(seed), len(FACTS))
    timed = zip(FACTS, times, strict=True)
    rows = [(n, ms, f.sender, f.sequence, fact_line(f), None, b"") for n, (f, ms) in enumerate(timed)]
    read = OldLines(until_ms=NOW_MS - TOLD_MS)
    for first in range(0, len(rows), CHUNK):
        read.take(rows[first : first + CHUNK])
    waiting = [row for some in read.recent for row in some]
    assert [each.id for each in read.facts] == [each.id for each in FACTS[: len(read.facts)]]
    assert waiting == rows[len(read.facts) :]
    assert sum(count for _, count in read.received) == len(read.facts)
    parts = [times[first : first + CHUNK] for first in range(0, len(times), CHUNK)]
    newest, since = 0, 0
    for number, part in enumerate(parts):
        newest, since = (max(part), number) if max(part) < newest - KEPT_MS else (max(newest, *part), since)
    late = max(NOW_MS, newest) - TOLD_MS
    told = [number for number, part in enumerate(parts) if number >= since and max(part) > late]
    assert len(waiting) == (len(rows) - told[0] * CHUNK if told else 0)


@pytest.mark.parametrize("ahead_ms", [2 * HOUR_MS, 400 * 24 * HOUR_MS])
@pytest.mark.parametrize("whole", [True, False])
async def test_lines_of_a_clock_that_was_ahead_are_read_as_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ahead_ms: int, whole: bool
) -> None:
    """All of them or the first half: books and senders are the same, few come one by one, and the public sees them."""
    monkeypatch.setattr("tallywire.shell.journal.examine._CHUNK", CHUNK)
    memory, file = MemoryJournal(), SqliteJournal.open(tmp_path / "journal.sqlite")
    lines = drafts(FACTS)
    for number in range(0, len(lines), CHUNK):
        some = lines[number : number + CHUNK]
        before_ms = NOW_MS - (len(lines) - number) * 1000
        is_ahead = whole or number < len(lines) / 2
        await file.append(some, received_unix_ms=before_ms + (ahead_ms if is_ahead else 0))
        await memory.append(some, received_unix_ms=NOW_MS - 1000)  # each comes by itself
    await file.close()
    read = OldLines(until_ms=NOW_MS - TOLD_MS)
    again = SqliteJournal.open(tmp_path / "journal.sqlite", reader=read)
    assert sum(map(len, read.recent)) <= 3 * CHUNK
    work, clock = competition_of("saltmarsh"), FakeClock(unix_ms=NOW_MS)
    live = live_on(again, clock=clock, work=work, read=read)
    assert known(live) == known(live_on(memory, clock=clock, work=work))
    piece = live.public[work.floor_ids[0]].newest()
    assert piece is not None
    segment = live.public[work.floor_ids[0]].segment(json.loads(piece.body)["segment"])
    assert segment is not None
    assert json.loads(segment.body)["lanes"]["1"]["done"] > 0
    await again.close()
