"""How many bytes a tap costs each watcher of the heat view, and a whole picture. They are the same on every machine."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import Any

import orjson

from tallywire.core.fold.book import CompetitionBook
from tallywire.core.standings.in_event import in_event
from tallywire.core.views.heat import heat_frame, worth_data
from tallywire.measure.figures import Cell, Figure, FigureTable, Goal
from tallywire.measure.long_heat import HEAT, START_UNIX_MS, long_competition, started, uneven_taps
from tallywire.measure.scale import Scale
from tallywire.wire.channel import Channel

_TAPS_A_LANE = 130
"""Five rounds of what the measured heat has in each: then a picture is as large as it gets."""


@dataclass(frozen=True, slots=True)
class Sizes:
    """Bytes of each tap's message and of the patch in it, and of the last picture, plain and packed."""

    messages: tuple[int, ...]
    patches: tuple[int, ...]
    plain: int
    packed: int


def measure(scale: Scale) -> Iterator[FigureTable]:
    """Send the heat view after each tap of a heat, with ten lanes and with twenty."""
    a_lane = scale.sized(_TAPS_A_LANE, quick=3)
    found = {lanes: _sizes(lanes, a_lane * lanes) for lanes in (10, 20)}
    messages = {lanes: Figure.of(sizes.messages) for lanes, sizes in found.items()}
    packed = Figure.of([found[20].packed])
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (lanes, messages[lanes], Figure.of(sizes.patches), Figure.of([sizes.plain]), Figure.of([sizes.packed]))
        for lanes, sizes in found.items()
    )
    yield FigureTable(
        title="The view heat, bytes: what a tap sends each watcher, and the whole picture at the end",
        columns=("lanes", "a message", "the patch in it", "a picture", "packed"),
        rows=rows,
        goals=(
            Goal(says="a tap's message, ten lanes", found=messages[10], bound=160, unit="bytes"),
            Goal(says="the picture of twenty lanes, packed", found=packed, bound=6_000, unit="bytes"),
        ),
        notes=(
            "Lanes that are one per cent apart change places far more often than those of the recorded heats, "
            "where a message has 139 bytes in the middle.",
        ),
    )


def _sizes(lanes: int, count: int) -> Sizes:
    frames = _frames(lanes, count)
    channel = Channel(view="heat", heat="floor", epoch="0" * 16, frame=next(frames), unix_ms=START_UNIX_MS)
    sent = [channel.publish(frame, unix_ms=START_UNIX_MS) for frame in frames]
    messages = [message for message in sent if message is not None]
    patches = [len(orjson.dumps(orjson.loads(message)["patch"])) for message in messages]
    sizes = map(len, messages)
    return Sizes(tuple(sizes), tuple(patches), len(channel.snapshot()), len(channel.snapshot(packed=True)))


def _frames(lanes: int, count: int) -> Iterator[Mapping[str, Any]]:
    """Give the view after the start, and after each tap."""
    work = long_competition(lanes=lanes, taps=count)
    book = CompetitionBook(work, [started()])
    coming = sorted(islice(uneven_taps(lanes=lanes), count), key=lambda tap: tap.at_ms)
    for tap in (None, *coming):
        if tap is not None:
            book.add(tap)
        snapshot = book.at(unix_ms=START_UNIX_MS + (0 if tap is None else tap.at_ms))
        heat = snapshot.heats[HEAT]
        whole = heat_frame(work, heat.state, in_event(snapshot, heat)) | worth_data(snapshot, heat)
        yield whole | {"mode": "live", "speed": 1}
