"""Checks of the outputs and rundowns of a competition file: names that must exist, views that must be possible."""

from __future__ import annotations

from collections.abc import Iterator

from tallywire.core.errors import Problem
from tallywire.core.model.outputs import default_outputs
from tallywire.core.show.catalogue import Known, problems
from tallywire.wire.competition_schema import CompetitionFile
from tallywire.wire.problems import shown
from tallywire.wire.start_list import LaneRow


def rundown_problems(table: CompetitionFile, rows: list[LaneRow]) -> Iterator[Problem]:
    """Give what is wrong with the rundowns: an output or view that does not exist, a lane or entry that nobody has."""
    outputs = [each.id for each in table.output] or list(default_outputs({each.id: each.name for each in table.floor}))
    known = _known(table, rows)
    planned: dict[str, int] = {}
    for index, rundown in enumerate(table.rundown, start=1):
        path = f"rundown[{index}]"
        if rundown.output not in outputs:
            yield Problem(f"{path}.output", shown(rundown.output), f"an output of this file: {', '.join(outputs)}")
        first = planned.setdefault(rundown.output, index)
        if first != index:
            yield Problem(
                f"{path}.output", shown(rundown.output), f"one rundown for each output: rundown[{first}] is the first"
            )
        for number, item in enumerate(rundown.item, start=1):
            yield from problems(f"{path}.item[{number}]", item.view, item.params(), known)


def _known(table: CompetitionFile, rows: list[LaneRow]) -> Known:
    heats = {heat.id: {int(lane): entry for lane, entry in heat.lanes.items()} for heat in table.heat}
    for row in rows:
        if row.heat in heats:
            heats[row.heat][row.lane] = row.entry
    parts = frozenset(part.id for event in table.event for part in event.part)
    return Known(heats=heats, divisions=frozenset(each.id for each in table.division), parts=parts)
