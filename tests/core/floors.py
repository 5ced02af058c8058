"""Help for tests of several floors: a competition in which heats run on each of them at the same time."""

from __future__ import annotations

from dataclasses import replace

from core.samples import competition
from tallywire.core.model.competition import Competition, Division, Entry, Event, Floor, Heat
from tallywire.core.model.outputs import default_outputs

NAMES = ("East", "West", "Pier")


def floors_apart(count: int, *, one_event: bool = False, lanes: int = 2) -> Competition:
    """So many floors (one has no name), each with two heats on the same lanes.

    Each floor has a division and an event of its own, or all heats belong to `one_event`.
    """
    plain = competition(lanes=1)
    named = [name.lower() for name in NAMES[:count]] if count > 1 else [""]
    events = ["event"] if one_event else [f"event-{floor}" for floor in named]
    heats: dict[str, Heat] = {}
    entries: dict[str, Entry] = {}
    for number, floor in enumerate(named):
        division = "all" if one_event else f"division-{floor}"
        for turn in (1, 2):
            on = {n: f"{floor}e{turn}{n}" for n in range(1, lanes + 1)}
            entries |= {
                each: Entry(id=each, name=f"Entry {each}", short=each, division=division) for each in on.values()
            }
            heat = Heat(
                id=f"{floor}h{turn}", name=f"Heat {turn}", event=events[number % len(events)], lanes=on, floor=floor
            )
            heats[heat.id] = heat
    work = plain.events["event"].workout
    floors = {floor: Floor(id=floor, name=floor.title()) for floor in named if floor}
    return replace(
        plain,
        divisions={each: Division(id=each, name=each) for each in dict.fromkeys(e.division for e in entries.values())},
        entries=entries,
        events={each: Event(id=each, name=each.title(), workout=work, points="table") for each in events},
        heats=heats,
        floors=floors,
        outputs=default_outputs({each.id: each.name for each in floors.values()}),
    )
