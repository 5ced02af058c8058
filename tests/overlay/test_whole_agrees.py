"""What the pages make of short messages (overlay/shared/whole.js, packed.js) against the frames of the server.

Beside the pages a second reader (`wire.reader`), written from docs/frames.md alone, makes the same of what was sent.
"""

from __future__ import annotations

import asyncio
import json
import os
import subprocess
from collections.abc import Iterator
from pathlib import Path
from random import Random, SystemRandom
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from core.test_one_voice import drawn, heat_cap, stopped
from golden.examples import examples
from golden.take import frames_of
from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.views.table import own_lane_frame
from tallywire.shell.read_model import VIEWS, Source
from tallywire.shell.worked_out import WorkedOut
from tallywire.wire.channel import Channel
from wire.made_frames import series as made_series
from wire.reader import whole

HERE = Path(__file__).parent
FRESH, LONG, MOMENTS = 12, 300, 6
"""How many random competitions the test command stops, how many `--long` does, and how often each heat is stopped."""
Frame = dict[str, Any]


@pytest.mark.parametrize("name", ["estuary-day", "saltmarsh-women-2-signed", "two-floors", "saltmarsh-day"])
def test_pages_have_the_servers_frames(name: str) -> None:
    """In every format, with lanes held, mended and level, a page that hears the messages of a view has its frames.

    Only the times at station ends are left out, in all views but the gaps. A page that came at the first frame has
    the same as one that comes at any later one.
    """
    assert list(_differences(asyncio.run(_series(name)))) == []


@pytest.mark.slow
def test_readers_have_the_servers_frames_of_random_heats(tmp_path: Path, pytestconfig: pytest.Config) -> None:
    """So it is in fresh random competitions, and of what a lane's own link sees of the table view.

    They have every format, two divisions, ties, holds, penalties, leavers and vacant places. WHOLE_SEED=n plays one
    competition again.
    """
    asked = os.environ.get("WHOLE_SEED")
    first = int(asked) if asked else SystemRandom().randrange(10**9)
    count = 1 if asked else LONG if pytestconfig.getoption("--long") else FRESH
    print(f"{count} competitions from seed {first}")
    for seed in range(first, first + count):
        assert (seed, *_differences(_random_series(tmp_path, seed))) == (seed,)


@settings(max_examples=10, phases=(Phase.reuse, Phase.generate))
@given(st.lists(made_series(), min_size=20, max_size=20))
def test_readers_agree_where_nothing_follows(series: list[list[Frame]]) -> None:
    """So it is of made-up frames in which places, counts, gaps and points are at odds with each other.

    A failure is not made smaller: each try starts the pages' reader anew.
    """
    assert list(_differences(series)) == []


def test_one_lane_more_is_one_lane_more() -> None:
    """The comparison can fail: a page that is told another count has another frame."""
    frames = asyncio.run(_series("estuary-day"))[0]
    followed, joined = _said(frames)
    joined[-1]["frame"]["order"].append(99)
    assert _by_the_pages([(followed, joined)])[1] != [_without_times(frame) for frame in frames]


def _differences(series: list[list[Frame]]) -> Iterator[str]:
    """Name each channel and reader whose frames are not those of the server. Of equal neighbours nothing is sent."""
    changes = [[frame for number, frame in enumerate(each) if each[number - 1 : number] != [frame]] for each in series]
    made = _by_the_pages([_said(frames) for frames in changes])
    for frames, followed, joined in zip(changes, made[::2], made[1::2], strict=True):
        expected = [_without_times(frame) for frame in frames]
        second = [whole(json.loads(_channel(frame).snapshot())["frame"]) for frame in frames]
        found = {"a page that stays": followed, "a page that comes anew": joined, "the second reader": second}
        yield from (f"{who}, {frames[0].get('view')}" for who, each in found.items() if each != expected)


def _random_series(folder: Path, seed: int) -> list[list[Frame]]:
    """The frames of every view that has lanes, of each heat of a random competition, at random moments."""
    competition, facts = drawn(folder, seed)
    dice, series = Random(seed), []
    for heat in competition.heats.values():
        moments = sorted(dice.sample(range(1, 2 * heat_cap(competition, heat.event)), MOMENTS))
        views = [_views(stopped(competition, facts, heat.id, at_ms), heat.id) for at_ms in moments]
        series += [[view[name] for view in views] for name in views[0]]
    return series


def _views(snapshot: Snapshot, heat: str) -> dict[str, Frame]:
    source = Source(snapshot=snapshot, heat=snapshot.heats[heat], known=WorkedOut(), language="en", pads=None)
    views = {name: VIEWS[name](source) for name in ("heat", "gaps", "result", "event", "table", "call")}
    lanes = snapshot.heats[heat].heat.lanes
    return views | {f"table/{lane}": own_lane_frame(views["table"], lane) for lane in lanes}


async def _series(name: str) -> list[list[Frame]]:
    """The frames of every view of every heat, one after the other."""
    series: dict[tuple[str, str], list[Frame]] = {}
    async for stop, view, frame in frames_of(examples()[name]):
        series.setdefault((view, stop.heat), []).append(frame)
    return list(series.values())


def _said(frames: list[Frame]) -> tuple[list[Frame], list[Frame]]:
    """What is said to one who stays, and to one who comes anew for each frame."""
    channel = _channel(frames[0])
    followed, joined = [channel.snapshot(packed=True)], [channel.snapshot(packed=True)]
    for frame in frames[1:]:
        patch = channel.publish(frame)
        assert patch is not None
        followed.append(patch)
        joined.append(channel.snapshot(packed=True))
    return [json.loads(each) for each in followed], [json.loads(each) for each in joined]


def _channel(frame: Frame) -> Channel:
    return Channel(view=frame.get("view", ""), heat="floor", epoch="e", frame=frame)


def _by_the_pages(told: list[tuple[list[Frame], list[Frame]]]) -> list[list[Frame]]:
    channels = [messages for pair in told for messages in pair]
    node = subprocess.run(
        ["node", HERE / "whole_vectors.js"], input=json.dumps(channels), capture_output=True, text=True, check=True
    )
    made: list[list[Frame]] = json.loads(node.stdout)
    return made


def _without_times(frame: Frame) -> Frame:
    if frame["view"] == "gaps" or "event" not in frame:
        return frame
    lanes = {
        name: {key: value for key, value in lane.items() if key != "splits"} for name, lane in frame["lanes"].items()
    }
    return frame | {"lanes": lanes}
