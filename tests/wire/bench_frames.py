"""How many bytes a tap costs each watcher, and a whole frame: every recorded heat, played tap by tap.

    PYTHONPATH=server:tests python tests/wire/bench_frames.py

Each fact has a patch of its own, as when nothing else comes within a twenty-fifth of a second. A message is counted as
it is sent, with `view`, `heat` (`floor`), `number` and `unix_ms`; a patch is what stands in its `patch`. Twenty lanes
are the ten of the demo heat twice. Bytes are the same on every machine.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Iterator, Sequence
from dataclasses import dataclass, field, replace
from statistics import median
from typing import Any

import orjson

from core.examples import competition_of, recorded
from golden import door
from golden.examples import Example, examples
from tallywire.core.facts import Fact, FactVoided
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Competition
from tallywire.core.standings.in_event import in_event
from tallywire.core.views.heat import heat_frame, worth_data
from tallywire.wire.channel import Channel

VIEWS = ("heat", "gaps", "table", "result", "event")
MORE = 10
"""Lanes 11 to 20 are lanes 1 to 10 once more."""
Frame = dict[str, Any]


@dataclass(slots=True)
class Sizes:
    """Bytes of one view of one heat: each patch, its message, and the snapshot at the end, plain and packed."""

    patches: list[int] = field(default_factory=list)
    messages: list[int] = field(default_factory=list)
    plain: int = 0
    packed: int = 0


def sizes_of(example: Example, view: str, frames: list[Frame]) -> Sizes:
    """Send the frames of a view of a heat, one after the other."""
    channel = Channel(view=view, heat="floor", epoch="0" * 16, frame=frames[0], unix_ms=_unix_ms(example))
    sizes = Sizes()
    for frame in frames[1:]:
        message = channel.publish(frame, unix_ms=_unix_ms(example))
        if message is not None:
            sizes.messages.append(len(message))
            sizes.patches.append(len(orjson.dumps(orjson.loads(message)["patch"])))
    sizes.plain, sizes.packed = len(channel.snapshot()), len(channel.snapshot(packed=True))
    return sizes


async def played(example: Example) -> dict[str, list[Frame]]:
    """Give each view's frame after each fact of a recorded heat."""
    frames: dict[str, list[Frame]] = {view: [] for view in VIEWS}
    async for view, frame in _frames(example):
        frames[view].append(frame)
    return frames


async def _frames(example: Example) -> AsyncIterator[tuple[str, Frame]]:
    zero, heat = example.zero_unix_ms, example.facts[0]["heat"]
    facts = sorted(example.facts, key=lambda fact: zero[fact["heat"]] + fact["at_ms"])
    async with door.opened(example.competition, unix_ms=zero[heat] - 60_000) as opened:
        for fact in facts:
            await opened.reach(zero[fact["heat"]] + fact["at_ms"], [fact])
            for view in VIEWS:
                yield view, await opened.frame(view, heat)


def twenty_lanes() -> Frame:
    """Give the heat view of twenty lanes at the end of the demo heat."""
    work, facts = _twice(competition_of("saltmarsh"), "women-2", recorded("saltmarsh-women-2"))
    snapshot = CompetitionBook(work, facts).at_clocks({"women-2": 10**7}, others_ms=10**7)
    heat = snapshot.heats["women-2"]
    whole = heat_frame(work, heat.state, in_event(snapshot, heat)) | worth_data(snapshot, heat)
    return whole | {"mode": "live", "speed": 1}


def _twice(work: Competition, name: str, facts: Sequence[Fact]) -> tuple[Competition, list[Fact]]:
    heat = work.heats[name]
    again = {lane + MORE: f"{entry}-again" for lane, entry in heat.lanes.items()}
    entries = {f"{entry}-again": replace(work.entries[entry], id=f"{entry}-again") for entry in heat.lanes.values()}
    twice = replace(heat, lanes={**heat.lanes, **again})
    work = replace(work, entries={**work.entries, **entries}, heats={**work.heats, name: twice})
    return work, [*facts, *_moved(facts)]


def _moved(facts: Sequence[Fact]) -> Iterator[Fact]:
    for fact in facts:
        lane = getattr(fact, "lane", None)
        if lane is not None:
            named: Frame = {"id": f"{fact.id}-again", "sender": f"{fact.sender}-again", "lane": lane + MORE}
            voids: Frame = {"voids": f"{fact.voids}-again"} if isinstance(fact, FactVoided) else {}
            yield replace(fact, **named, **voids)


def _unix_ms(example: Example) -> int:
    return max(example.zero_unix_ms.values())


def main() -> None:
    """Measure and print."""
    heats = [each for name, each in examples().items() if [name] == [path.stem for path in each.recordings]]
    found = {each.name: {v: sizes_of(each, v, f) for v, f in asyncio.run(played(each)).items()} for each in heats}
    print(f"{'heat':22}{'taps':>6}  " + "".join(f"{view:>14}" for view in VIEWS) + "   end of heat view: plain, packed")
    for name, views in found.items():
        medians = "".join(f"{median(s.messages):>8.0f}{median(s.patches):>6.0f}" for s in views.values())
        print(f"{name:22}{len(views['heat'].messages):>6}  {medians}   {views['heat'].plain}, {views['heat'].packed}")
    every = {view: [size for views in found.values() for size in views[view].messages] for view in VIEWS}
    bodies = {view: [size for views in found.values() for size in views[view].patches] for view in VIEWS}
    medians = "".join(f"{median(every[view]):>8.0f}{median(bodies[view]):>6.0f}" for view in VIEWS)
    print(f"{'all':22}{len(every['heat']):>6}  {medians}")
    frame = twenty_lanes()
    channel = Channel(view="heat", heat="floor", epoch="0" * 16, frame=frame, unix_ms=10**12)
    print(f"twenty lanes at the end: plain {len(channel.snapshot())}, packed {len(channel.snapshot(packed=True))}")
    print(f"the same, with nothing left out: {len(orjson.dumps(frame))}")


if __name__ == "__main__":
    main()
