"""What a frame leaves out on the wire is what a reader puts back, and no more is said than a reader needs.

The reader is `reader.py`, written from docs/frames.md alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from hypothesis import given

from core.samples import HEAT, Pad, competition, workout
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.workout import Station
from tallywire.core.standings.in_event import in_event
from tallywire.core.views.heat import heat_frame, worth_data
from tallywire.wire.merge_patch import diff
from tallywire.wire.short_frame import Shortener
from wire.made_frames import series
from wire.reader import whole

Frame = dict[str, Any]
RULED = frozenset({"scored_reps", "place", "shared", "gap_leader", "gap_next", "reps_to_go", "result", "points"})
"""What is left out only where it follows."""
ROW = workout(rounds=((Station(movement="row", amount=20),),))


def frame_at(book: CompetitionBook) -> Frame:
    """The heat view of the one heat ten seconds after its start."""
    now = book.at_clocks({HEAT: 10_000})
    heat = now.heats[HEAT]
    return heat_frame(now.competition, heat.state, in_event(now, heat)) | worth_data(now, heat)


def said_in_vain(short: Frame) -> Iterator[tuple[str, str]]:
    """Every field that a frame says although a reader would have had it."""
    made = whole(short)
    for name, lane in short["lanes"].items():
        for field in RULED & lane.keys():
            rest = {key: value for key, value in lane.items() if key != field}
            if _or_nothing({**short, "lanes": {**short["lanes"], name: rest}}) == made:
                yield name, field


def _or_nothing(short: Frame) -> Frame | None:
    """What a reader makes of it; None where a field is missing that nothing gives."""
    try:
        return whole(short)
    except (KeyError, IndexError):
        return None


@given(series())
def test_a_reader_has_the_frame_and_nothing_is_said_in_vain(frames: list[Frame]) -> None:
    """Over a series of frames in which places, counts, points and holds are at odds or not, in two divisions."""
    shortener = Shortener()
    for frame in frames:
        short = dict(shortener.shorten(frame))
        kept = frame["view"] == "gaps"
        lanes = frame["lanes"].items()
        expected = {name: {key: lane[key] for key in lane if kept or key != "splits"} for name, lane in lanes}
        assert whole(short) == {**frame, "lanes": expected}
        assert not list(said_in_vain(short))


@given(series())
def test_what_was_shortened_before_changes_nothing(frames: list[Frame]) -> None:
    """A frame is shortened the same after any other frames as by itself."""
    shortener = Shortener()
    assert [shortener.shorten(frame) for frame in frames] == [Shortener().shorten(frame) for frame in frames]


def test_a_lane_that_stays_as_it_is_is_not_shortened_again() -> None:
    """By hand: lane 4 taps and stays last; what is sent of lanes 1 to 3 is the same object as before."""
    taps = [Pad(f"lane-{lane}-a", lane).reps(1000, 10 - 2 * lane) for lane in range(1, 5)]
    book = CompetitionBook(competition(ROW, lanes=4), [Pad("table-a").start(), *taps])
    shortener, before = Shortener(), frame_at(book)
    first = shortener.shorten(before)["lanes"]
    book.add(Pad("lane-4-b", 4).reps(2000))
    after = frame_at(book)
    second = shortener.shorten(after)["lanes"]
    assert after["lanes"]["4"]["done"] == before["lanes"]["4"]["done"] + 1
    assert [second[name] is first[name] for name in "1234"] == [True, True, True, False]


def test_a_tap_that_passes_somebody_says_what_was_done_and_when() -> None:
    """By hand: with 5 and 5 reps lanes 1 and 2 share first place; a rep of lane 2 makes it first alone, and 1 second.

    Of that the wire says the two numbers of the tap: places, gaps and points follow.
    """
    facts = [Pad("table-a").start(), Pad("lane-1-a", 1).reps(1000, 5), Pad("lane-2-a", 2).reps(1000, 5)]
    book, shortener = CompetitionBook(competition(ROW, lanes=2), facts), Shortener()
    first = shortener.shorten(frame_at(book))["lanes"]
    book.add(Pad("lane-2-b", 2).reps(2000))
    frame = frame_at(book)
    assert {name: (lane["place"], lane["points"]) for name, lane in frame["lanes"].items()} == {
        "1": (2, 90),
        "2": (1, 100),
    }
    second = shortener.shorten(frame)["lanes"]
    assert diff(first, second) == {"2": {"done": 6, "reached_ms": 2000}}
