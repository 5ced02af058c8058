"""What the table is told of counters turns exactly at the bounds that docs/venue.md and docs/frames.md name."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from core.samples import HEAT, Pad, competition, workout
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.counters import Comparison
from tallywire.core.fold.snapshot import HeatSnapshot
from tallywire.core.rehearsal.placing import Placed
from tallywire.shell.clock import FakeClock
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.journal.port import Draft
from tallywire.shell.journal.seal import SLOT_BYTES, read_seal, seal_path
from tallywire.shell.pads import Pads
from tallywire.shell.reel import Reel
from tallywire.shell.touches import Touches
from tallywire.wire.roles import ROLES
from tallywire.wire.rules import Sender


def a_heat() -> HeatSnapshot:
    """The sample heat, running for a minute."""
    book = CompetitionBook(competition(workout()))
    book.add(Pad("starter").start())
    return book.at_clocks({HEAT: 60_000}).heats[HEAT]


def lane_pad(name: str, lane: int = 1) -> Sender:
    """A judge's pad."""
    return Sender(name=f"lane-{lane}-{name}", role=ROLES["lane"], lane=lane)


@pytest.mark.parametrize(
    ("apart_ms", "expected_ms", "said"),
    [
        (249, 2_000, "double"),
        (250, 2_000, None),
        (0, 2_000, "double"),
        (149, 300, "double"),
        (150, 300, None),
        (-1, 2_000, None),
    ],
)
def test_a_double_touch_is_nearer_than_a_quarter_second_and_half_a_rep(
    apart_ms: int, expected_ms: int, said: str | None
) -> None:
    """The nearer of both bounds counts, and a touch from before the last one is none."""
    touches = Touches()
    touches.take(10_000, expected_ms)
    assert touches.take(10_000 + apart_ms, expected_ms) == said


def test_six_touches_are_too_fast_below_three_tenths_of_their_time() -> None:
    """Five gaps of two seconds each are ten seconds: 2,999 ms are too fast to be true, 3,000 are not."""
    for last_ms, said in ((2_999, "too_fast"), (3_000, None)):
        touches = Touches()
        assert [touches.take(at_ms, 2_000) for at_ms in (0, 600, 1_200, 1_800, 2_400, last_ms)][-1] == said


def test_counters_disagree_beyond_two_reps_or_after_half_of_ten_seconds() -> None:
    """Two reps apart are a matter of time, three are raised at once, whichever counter is ahead."""
    for main, backup, raised in ((12, 10, False), (13, 10, True), (10, 13, True), (10, 10, False)):
        found = Comparison()
        found.note(main, backup, 1_000)
        assert found.is_raised(1_000) is raised
    one_apart = Comparison()
    one_apart.note(11, 10, 1_000)
    assert (one_apart.is_raised(6_000), one_apart.is_raised(6_001)) == (False, True)


def test_what_was_more_than_ten_seconds_ago_is_no_disagreement() -> None:
    """Level since nine seconds, apart again for four: with the second before, that is five of the last ten."""
    found = Comparison()
    found.note(11, 10, 0)
    found.note(11, 11, 10_000)
    found.note(12, 11, 15_000)
    assert found.is_raised(19_000) is False
    assert found.is_raised(19_999) is False
    assert found.is_raised(20_001) is True


def test_a_pad_is_missed_five_seconds_after_it_went() -> None:
    """Not while one of two is there, and not a millisecond before."""
    clock, heat = FakeClock(), a_heat()
    pads = Pads(clock=clock, changed=lambda _missed: None)
    first, second = lane_pad("a"), lane_pad("b")
    for each in (first, second):
        pads.join(each)
    gone_ms = clock.unix_ms()
    pads.leave(first)
    assert pads.missed(heat, gone_ms + 60_000) == []
    pads.leave(second)
    assert (pads.missed(heat, gone_ms + 4_999), pads.missed(heat, gone_ms + 5_000)) == ([], [1])


@pytest.mark.parametrize("other", ["table", "machine"])
def test_a_lane_that_somebody_else_counts_misses_no_pad(other: str) -> None:
    """Keys and machines are named until the pad counts again, or all begins anew; a correction is no counting."""
    clock, pad = FakeClock(), lane_pad("a")
    pads = Pads(clock=clock, changed=lambda _missed: None)
    pads.join(pad)
    pads.leave(pad)
    later_ms = clock.unix_ms() + 60_000

    def counted(sender: str, *, corrected: bool = False) -> tuple[str | None, list[int]]:
        book, by = CompetitionBook(competition(workout())), Pad(sender, 1)
        book.add(Pad("starter").start())
        fact = by.correct(1_000, 5) if corrected else by.reps(1_000)
        book.add(fact)
        now = book.at_clocks({HEAT: 60_000})
        pads.counted(fact, now)
        return pads.seen(now.heats[HEAT], 0)["1"].get("counted_by"), pads.missed(now.heats[HEAT], later_ms)

    assert counted("table-a", corrected=True) == (None, [1])
    assert counted("backup-1-a") == (None, [1])
    assert counted(f"{other}-a") == (other, [])
    assert counted("lane-1-a") == (None, [1])
    assert counted(f"{other}-a") == (other, [])
    pads.begin_anew()
    assert pads.missed(a_heat(), later_ms) == [1]


def test_six_devices_of_a_lane_are_remembered() -> None:
    """The seventh takes the place of one that is gone; those that are connected stay, however many they are."""
    heat = a_heat()
    for up, kept in ((False, 6), (True, 7)):
        pads = Pads(clock=FakeClock(), changed=lambda _missed: None)
        for number in range(7):
            pads.join(lane_pad(str(number)))
            if not up:
                pads.leave(lane_pad(str(number)))
        devices = pads.seen(heat, 0)["1"]["devices"]
        assert len(devices) == kept
        assert devices[-1]["sender"] == "lane-1-6"


def test_pads_of_a_lane_say_nothing_of_another() -> None:
    """Two on lane 1 are two there alone; lane 2 is told to have none."""
    pads = Pads(clock=FakeClock(), changed=lambda _missed: None)
    assert pads.seen(a_heat(), 0) == {}
    pads.join(lane_pad("a"))
    assert "two" not in pads.seen(a_heat(), 0)["1"]
    pads.join(lane_pad("b"))
    seen = pads.seen(a_heat(), 0)
    assert seen["1"]["two"] is True
    assert seen["2"] == {"devices": []}


def test_a_seal_has_two_slots_and_no_byte_more(tmp_path: Path) -> None:
    """Two slots of 4,096 bytes are all there is; a byte more is a fault that is named with both numbers."""
    journal = tmp_path / "journal.sqlite"
    for size, faults in ((2 * 4096, ()), (2 * 4096 + 1, ("the seal has 8193 bytes, expected at most 8192",))):
        seal_path(journal).write_bytes(bytes(size))
        assert read_seal(journal).faults == faults
    assert SLOT_BYTES == 4096


async def test_what_the_crew_sends_in_a_rehearsal_comes_after_what_was_played() -> None:
    """Sent at 4 s: before anything was played it stands at 4 s, after a fact of 10 s it stands behind that."""
    fact = Pad("lane-1-a", 1).reps(10_000)
    for played_to_ms, stands_ms in ((0, 4_000), (10_000, 10_000)):
        reel = Reel([Placed(at_ms=10_000, fact=fact)], kept=MemoryJournal())
        reel.play_to(played_to_ms)
        await reel.append([Draft(sender="table-a", sequence=1, body=b"{}", refusal=b"{}")], received_unix_ms=4_000)
        assert [turn.at_ms for turn in reel._turns if turn.draft is not None] == [stands_ms]


def test_what_is_made_of_a_lane_is_kept_for_its_very_outcome() -> None:
    """Asked again it is not made again; with another outcome it is made anew."""
    heat = a_heat()
    lane, one = heat._folded.lanes[1], heat.outcome(1)
    other = replace(one, score=one.score + 1)
    asked = ((one, "first"), (one, "again"), (other, "second"), (other, "again"), (one, "third"))
    assert [lane.once("n", outcome, partial(str, made)) for outcome, made in asked] == [
        "first",
        "first",
        "second",
        "second",
        "third",
    ]
