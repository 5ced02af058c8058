"""A channel brings anybody who knows one of its frames to the newest one."""

from __future__ import annotations

from typing import Any

import orjson
from hypothesis import given
from hypothesis import strategies as st

from core.folding import fold
from core.samples import HEAT, Pad, competition, workout
from tallywire.core.model.workout import Station
from tallywire.core.views.heat import heat_frame
from tallywire.wire.channel import HISTORY_BYTES, HISTORY_PATCHES, Channel
from tallywire.wire.merge_patch import apply
from tallywire.wire.short_frame import Shortener

PADDING = {"fixed": "x" * 4000}


def channel(frame: dict[str, Any] | None = None, *, epoch: str = "e1") -> Channel:
    """A channel whose first frame is long, so that patches are worth it."""
    return Channel(view="heat", heat="floor", epoch=epoch, frame=PADDING | (frame or {"n": 0}))


def follow(messages: list[bytes], known: dict[str, Any] | None = None, number: int = 0) -> tuple[dict[str, Any], int]:
    """Do what a client does with messages: take a snapshot, apply patches in order."""
    frame = known or {}
    for message in map(orjson.loads, messages):
        if message["type"] == "snapshot":
            frame, number = message["frame"], message["number"]
        else:
            assert message["number"] == number + 1
            frame, number = apply(frame, message["patch"]), number + 1
    return frame, number


def test_a_newcomer_gets_a_snapshot() -> None:
    """A client that knows nothing gets the whole frame with its number and epoch."""
    row = channel()
    row.publish(PADDING | {"n": 1})
    [message] = map(orjson.loads, row.catch_up(None, None))
    assert (message["type"], message["epoch"], message["number"]) == ("snapshot", "e1", 2)
    assert message["frame"] == PADDING | {"n": 1}


def test_no_change_is_no_message() -> None:
    """Publishing an equal frame gives no message and no number."""
    row = channel()
    assert row.publish(PADDING | {"n": 0}) is None
    assert row.number == 1


def test_who_missed_a_few_gets_patches() -> None:
    """A client that has frame 2 of 4 gets patches 3 and 4 and nothing else."""
    row = channel()
    for n in range(1, 4):
        row.publish(PADDING | {"n": n})
    messages = [orjson.loads(each) for each in row.catch_up("e1", 2)]
    assert [(m["type"], m["number"], m["patch"]) for m in messages] == [("patch", 3, {"n": 2}), ("patch", 4, {"n": 3})]


def test_who_has_the_newest_gets_nothing() -> None:
    """There is nothing to send to a client that has the newest frame."""
    assert channel().catch_up("e1", 1) == []


def test_another_epoch_gets_a_snapshot() -> None:
    """A number from an earlier run of the server means nothing: a whole frame is sent."""
    row = channel()
    row.publish(PADDING | {"n": 1})
    assert orjson.loads(row.catch_up("e0", 1)[0])["type"] == "snapshot"


def test_a_number_from_the_future_gets_a_snapshot() -> None:
    """A client that claims a frame that was never published gets the newest whole."""
    assert orjson.loads(channel().catch_up("e1", 9)[0])["type"] == "snapshot"


def test_patches_longer_than_a_snapshot_are_not_sent() -> None:
    """When the missed patches add up to more than the frame, the frame is sent."""
    row = Channel(view="heat", heat="floor", epoch="e1", frame={"n": 0})
    for n in range(1, 10):
        row.publish({"n": n})
    assert [orjson.loads(each)["type"] for each in row.catch_up("e1", 1)] == ["snapshot"]


def test_what_is_remembered_is_bounded() -> None:
    """After very many or very long patches the history stays within its two bounds, and the oldest get a snapshot."""
    many, long = channel(), channel()
    for n in range(1, HISTORY_PATCHES + 50):
        many.publish(PADDING | {"n": n})
    for n in range(1, 40):
        long.publish(PADDING | {"n": str(n % 10) * (HISTORY_BYTES // 20)})
    assert len(many._patches) == HISTORY_PATCHES
    assert sum(map(len, long._patches)) <= HISTORY_BYTES
    assert orjson.loads(many.catch_up("e1", 1)[0])["type"] == "snapshot"


def test_what_follows_from_the_lanes_of_the_own_division_is_not_said() -> None:
    """Two women and two men at once, and no place is shared: no gap has to be said, since each follows from its own.

    Gaps (docs/frames.md, what the wire leaves out): E2 one rep behind E1, E4 two behind E3.
    """
    taps = [Pad(f"lane-{lane}-a", lane).reps(1000 * lane, n) for lane, n in ((1, 9), (2, 8), (3, 7), (4, 5))]
    work = competition(workout(rounds=((Station(movement="row", amount=20),),)), lanes=4, men=(3, 4))
    frame = heat_frame(work, fold(work, HEAT, [Pad("table-a").start(), *taps], 10_000))
    assert [lane["gap_leader"] for lane in frame["lanes"].values()] == [0, 1, 0, 2]
    short = Shortener().shorten(frame)["lanes"].values()
    assert not {key for lane in short for key in lane} & {"gap_leader", "gap_next", "shared"}


@given(st.lists(st.dictionaries(st.sampled_from("abc"), st.integers(0, 2)), min_size=1, max_size=12), st.data())
def test_every_frame_leads_to_the_newest(frames: list[dict[str, int]], data: st.DataObject) -> None:
    """Whichever frame a client has, following what it is sent ends at the newest frame and number."""
    row = channel({})
    had = [(row.number, dict(row.frame))]
    for frame in frames:
        row.publish(PADDING | frame)
        had.append((row.number, dict(row.frame)))
    number, known = data.draw(st.sampled_from(had))
    assert follow(row.catch_up("e1", number), known, number) == (row.frame, row.number)
