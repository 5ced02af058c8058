"""A heat to measure with: as many lanes and taps as asked for, every one as plain as the next."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import replace
from math import ceil
from pathlib import Path

from tallywire.core.facts import Fact, HeatStarted, RepCounted
from tallywire.core.formats.registry import format_names
from tallywire.core.model.competition import Competition
from tallywire.shell.files import load_competition

HEAT = "measured"
APART_MS = 100
"""Ten taps a second come from the whole floor."""
START_UNIX_MS = 1_800_000_000_000
_STATIONS = {"Rope climb": 2, "Sandbag over shoulder": 10, "Box step-over": 14}
_FEWEST_ROUNDS = 5


def long_file(*, lanes: int, taps: int) -> str:
    """Give a competition file with one heat, in the plainest format, that so many taps on so many lanes do not end."""
    rounds = max(_FEWEST_ROUNDS, ceil(taps / lanes / sum(_STATIONS.values())) + 1)
    numbers = range(1, lanes + 1)
    of_lanes = ", ".join(f'{n} = "e{n}"' for n in numbers)
    cap_s = taps * APART_MS // 1000 + 3600
    return "\n".join(
        [
            '[competition]\nname = "Measured Trials"\n[[division]]\nid = "open"\nname = "Open"',
            f'[[points]]\nid = "table"\nplaces = [{", ".join(str(10 * n) for n in reversed(numbers))}]',
            *(f'[[entry]]\nid = "e{n}"\nname = "Entry Number {n}"\ndivision = "open"' for n in numbers),
            '[[event]]\nid = "event"\nname = "Event"\npoints = "table"\n[event.workout]',
            f'format = "{format_names()[0]}"',
            f'time_cap = "{cap_s // 60}:{cap_s % 60:02}"\nrounds = {rounds}',
            *(
                f'[[event.workout.station]]\nmovement = "{movement}"\namount = {amount}\ntouch_guard_ms = 0'
                for movement, amount in _STATIONS.items()
            ),
            f'[[heat]]\nid = "{HEAT}"\nname = "Heat"\nevent = "event"\nlanes = {{ {of_lanes} }}\n',
        ]
    )


def long_competition(*, lanes: int, taps: int) -> Competition:
    """Give the competition of that file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "measured.toml"
        path.write_text(long_file(lanes=lanes, taps=taps), encoding="utf-8")
        return load_competition(path)


def started(*, unix_ms: int = START_UNIX_MS) -> Fact:
    """Give the start of the heat."""
    return HeatStarted(id="table-m.1", heat=HEAT, at_ms=0, sender="table-m", sequence=1, unix_ms=unix_ms)


def sender_of(lane: int) -> str:
    """Name the pad of a lane."""
    return f"lane-{lane}-m"


def taps(*, lanes: int, first: int = 0) -> Iterator[RepCounted]:
    """Give taps on the lanes in turn without end, from tap number `first` on."""
    number = first
    while True:
        lane, sequence = number % lanes + 1, number // lanes + 1
        sender = sender_of(lane)
        yield RepCounted(
            id=f"{sender}.{sequence}",
            heat=HEAT,
            at_ms=(number + 1) * APART_MS,
            sender=sender,
            sequence=sequence,
            lane=lane,
        )
        number += 1


def uneven_taps(*, lanes: int) -> Iterator[RepCounted]:
    """Give taps on lanes that are not equally fast, without end."""
    for fact in taps(lanes=lanes):
        yield replace(fact, at_ms=round(fact.at_ms * (0.9 + 0.01 * fact.lane)))
