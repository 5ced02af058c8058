"""The booth view, for the crew alone: how names are said, what is worth telling, and what spotters noted.

It is of the heat on the floor, and nothing in it is about an entry under a medical hold.
"""

from __future__ import annotations

from collections.abc import Sequence

from tallywire.core.facts import NoteSent
from tallywire.core.fold.booth import NOTHING, BoothMark, BoothState
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Competition, Entry
from tallywire.core.views.heat import Frame, clock_data

NOTES_MOST = 100
"""So many notes a frame has; those that were dismissed, and then the oldest, are the first to go."""


def booth_frame(snapshot: Snapshot, heat: HeatSnapshot) -> Frame:
    """Give what the booth knows of each lane, and the notes by their ids, newest first in `order`."""
    booth, competition = snapshot.booth.get(heat.heat.id, NOTHING), snapshot.competition
    entries = {lane: competition.entry_on(heat.heat, lane) for lane in heat.heat.lanes}
    seen = {lane: entry for lane, entry in entries.items() if entry.id not in snapshot.held}
    notes = _kept([note for note in booth.notes if note.lane is None or note.lane in seen], booth)
    return {
        "view": "booth",
        "heat": {"id": heat.heat.id, "name": competition.title_of(heat.heat)},
        "clock": clock_data(heat.state),
        "lanes": {str(lane): _lane(competition, lane, entry, booth) for lane, entry in seen.items()},
        "notes": {note.id: _note(note, booth) for note in notes},
        "order": [note.id for note in reversed(notes)],
    }


def spotters_frame(booth: Frame) -> Frame:
    """Give what a spotter sees of the booth view: who is on which lane, and the notes; of nobody what the file says."""
    lanes = {lane: {name: data[name] for name in _OF_A_LANE} for lane, data in booth["lanes"].items()}
    return booth | {"lanes": lanes}


_OF_A_LANE = ("lane", "entry", "name", "short")


def _lane(competition: Competition, lane: int, entry: Entry, booth: BoothState) -> Frame:
    brief = competition.briefing_of(entry.id)
    facts = [
        {"item": item, "text": text, "mark": booth.mark_of(item).value}
        for number, text in enumerate(brief.facts, start=1)
        for item in [f"{entry.id}/{number}"]
    ]
    words = {"say": brief.say, "ipa": brief.ipa, "age_class": brief.age_class, "caution": brief.caution}
    return {
        "lane": lane,
        "entry": entry.id,
        "name": entry.name,
        "short": entry.short,
        **{name: text for name, text in words.items() if text},
        "facts": facts,
    }


def _note(note: NoteSent, booth: BoothState) -> Frame:
    data: Frame = {
        "item": note.id,
        "text": note.text,
        "spotter": note.spotter,
        "at_ms": note.at_ms,
        "unix_ms": note.unix_ms,
        "mark": booth.mark_of(note.id).value,
    }
    return data if note.lane is None else data | {"lane": note.lane}


def _kept(notes: Sequence[NoteSent], booth: BoothState) -> list[NoteSent]:
    """Give the notes for which there is room, in their order: pinned ones before open ones, newer before older."""
    turn = {BoothMark.PINNED: 0, BoothMark.OPEN: 1, BoothMark.DISMISSED: 2}
    ranked = sorted(enumerate(notes), key=lambda each: (turn[booth.mark_of(each[1].id)], -each[0]))
    kept = {note.id for _, note in ranked[:NOTES_MOST]}
    return [note for note in notes if note.id in kept]
