"""What the pages make of short messages (overlay/shared/whole.js, packed.js) against the frames of the server."""

from __future__ import annotations

import asyncio
import json
import subprocess
from pathlib import Path
from typing import Any

import pytest

from golden.examples import examples
from golden.take import frames_of
from tallywire.wire.channel import Channel

HERE = Path(__file__).parent
Frame = dict[str, Any]


@pytest.mark.parametrize("name", ["estuary-day", "saltmarsh-women-2-signed", "two-floors", "saltmarsh-day"])
def test_pages_have_the_servers_frames(name: str) -> None:
    """In every format, with lanes held, mended and level, a page that hears the messages of a view has its frames.

    Only the times at station ends are left out, in all views but the gaps. A page that came at the first frame has
    the same as one that comes at any later one.
    """
    series = asyncio.run(_series(name))
    told = [_said(frames) for frames in series]
    made = _by_the_pages(told)
    for frames, followed, joined in zip(series, made[::2], made[1::2], strict=True):
        assert followed == joined == [_without_times(frame) for frame in frames]


def test_one_lane_more_is_one_lane_more() -> None:
    """The comparison can fail: a page that is told another count has another frame."""
    frames = asyncio.run(_series("estuary-day"))[0]
    followed, joined = _said(frames)
    joined[-1]["frame"]["order"].append(99)
    assert _by_the_pages([(followed, joined)])[1] != [_without_times(frame) for frame in frames]


async def _series(name: str) -> list[list[Frame]]:
    """The frames of every view of every heat, one after the other; equal neighbours once."""
    series: dict[tuple[str, str], list[Frame]] = {}
    async for stop, view, frame in frames_of(examples()[name]):
        seen = series.setdefault((view, stop.heat), [])
        if not seen or seen[-1] != frame:
            seen.append(frame)
    return list(series.values())


def _said(frames: list[Frame]) -> tuple[list[Frame], list[Frame]]:
    """What is said to one who stays, and to one who comes anew for each frame."""
    channel = Channel(view=frames[0].get("view", ""), heat="floor", epoch="e", frame=frames[0])
    followed, joined = [channel.snapshot(packed=True)], [channel.snapshot(packed=True)]
    for frame in frames[1:]:
        patch = channel.publish(frame)
        assert patch is not None
        followed.append(patch)
        joined.append(channel.snapshot(packed=True))
    return [json.loads(each) for each in followed], [json.loads(each) for each in joined]


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
