"""Outputs of the show and the rundown prepared for each, as the organiser writes them down before the day."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

DELAY_MOST_MS = 30_000
HOLD_MS = 30_000
RUNDOWN_MOST = 500
"""Lines of a rundown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One line of a rundown: a view, what it is to show, and what the operator calls it."""

    view: str
    params: Mapping[str, str] = field(default_factory=dict)
    name: str = ""


def item_of(line: Mapping[str, str]) -> Item:
    """Read a line as a desk sends it: the view, what it is to show, and the name, side by side."""
    params = {name: value for name, value in line.items() if name not in ("view", "name")}
    return Item(view=line["view"], params=params, name=line.get("name", ""))


def line_of(item: Item) -> dict[str, str]:
    """Give an item as such a line."""
    return {"view": item.view, **item.params} | ({"name": item.name} if item.name else {})


def rundown_digest(rundown: Sequence[Item]) -> str:
    """Give 16 hex digits that tell one rundown from another."""
    lines = json.dumps([line_of(each) for each in rundown], sort_keys=True)
    return hashlib.sha256(lines.encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """A picture that leaves the building: its size in pixels, its default delay, and its rundown.

    Without a link an output keeps its last picture for `hold_ms`, then clears. `timecode` names the rate in which the
    desk writes times of this output (see `core/model/timecode.py`), None for none. `floor` is the id of the floor whose
    heat it shows unless a view names another heat, empty where floors have no names. `language` is that of its words,
    empty: the competition's.
    """

    id: str
    name: str
    width: int = 1920
    height: int = 1080
    delay_ms: int = 0
    hold_ms: int = HOLD_MS
    timecode: str | None = None
    rundown: tuple[Item, ...] = ()
    floor: str = ""
    language: str = ""


def default_outputs(floors: Mapping[str, str] | None = None) -> dict[str, Output]:
    """Give the one output of a competition whose file names none; where it names `floors` (id to name), one of each."""
    if floors:
        return {each: Output(id=each, name=f"World feed, {name}", floor=each) for each, name in floors.items()}
    return {"world": Output(id="world", name="World feed")}
