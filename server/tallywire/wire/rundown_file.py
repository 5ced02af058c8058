"""Outputs and rundowns of a competition file, turned into the core's terms."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from tallywire.core.model.outputs import Item, Output, default_outputs
from tallywire.wire.catalogue import catalogue
from tallywire.wire.competition_schema import CompetitionFile, ItemTable, OutputTable


def outputs_of(table: CompetitionFile) -> Mapping[str, Output]:
    """Give the outputs with their rundowns, in the order of the file; one, or one a floor, when the file names none."""
    outputs = {each.id: _output(each) for each in table.output} or _default_outputs(table)
    rundowns = {each.output: tuple(map(_item, each.item)) for each in table.rundown}
    return {name: replace(output, rundown=rundowns.get(name, ())) for name, output in outputs.items()}


def _default_outputs(table: CompetitionFile) -> dict[str, Output]:
    """Give them named in the language of the competition."""
    floors, words = {each.id: each.name for each in table.floor}, catalogue(table.competition.language)
    feed = words.say("paper.world_feed")
    return {
        name: replace(each, name=words.say("paper.pair", one=feed, other=floors[name]) if each.floor else feed)
        for name, each in default_outputs(floors).items()
    }


def _output(each: OutputTable) -> Output:
    width, height = map(int, each.size.split("x"))
    return Output(
        id=each.id,
        name=each.name,
        width=width,
        height=height,
        delay_ms=round(each.delay_seconds * 1000),
        hold_ms=round(each.hold_seconds * 1000),
        timecode=each.timecode,
        floor=each.floor or "",
        language=each.language or "",
    )


def _item(each: ItemTable) -> Item:
    return Item(view=each.view, params=each.params(), name=each.name)
