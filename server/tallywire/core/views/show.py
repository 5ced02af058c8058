"""Two views for the outputs and the desk: the show as it stands, and who of a heat can be shown in which view."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from tallywire.core.facts import ViewTaken
from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.result_status import Stage
from tallywire.core.fold.show import OutputState
from tallywire.core.model.competition import Competition
from tallywire.core.model.outputs import rundown_digest
from tallywire.core.model.timecode import RATES, time_of_day_label
from tallywire.core.show.catalogue import CATALOGUE, missing_by_lane
from tallywire.core.show.subjects import held_lanes, subject_lanes
from tallywire.core.show.surroundings import Surroundings
from tallywire.core.views.heat import Frame


def show_frame(
    competition: Competition, outputs: Mapping[str, OutputState], *, held: Collection[str] = frozenset()
) -> Frame:
    """Give every output with its programme, delay, automatic mode and rundown, and the views there are.

    `held` are the entries under a medical hold in any heat: tables over several heats lose them at once too.
    """
    return {
        "view": "show",
        "competition": {"name": competition.name},
        "heats": {
            heat.id: {"name": competition.title_of(heat)} | _floor(heat.floor) for heat in competition.heats.values()
        },
        **_floors(competition),
        "parts": {part.id: part.name for event in competition.events.values() for part in event.parts},
        "views": {
            view.name: {"title": view.title, "least": view.least, "most": view.most} for view in CATALOGUE.values()
        },
        "outputs": {name: _output_data(state) for name, state in outputs.items()},
        "held": sorted(held),
    }


def subjects_frame(state: HeatState, stage: Stage, around: Surroundings) -> Frame:
    """Give the lanes of every subject, those on medical hold, what each view lacks, and how official the result is.

    `parts` are the scores of the event where it has several.
    """
    return {
        "view": "subjects",
        "heat": {"id": state.heat.id, "name": state.heat.name},
        "stage": stage.value,
        "parts": [part.id for part in state.event.parts],
        "subjects": subject_lanes(state),
        "held": held_lanes(state),
        "missing": missing_by_lane(state, around),
    }


def _floors(competition: Competition) -> Frame:
    floors = competition.floors.values()
    return {"floors": {each.id: {"name": each.name} for each in floors}} if floors else {}


def _floor(floor: str) -> dict[str, str]:
    return {"floor": floor} if floor else {}


def _output_data(state: OutputState) -> Frame:
    output = state.output
    data: Frame = {
        "name": output.name,
        "width": output.width,
        "height": output.height,
        "hold_ms": output.hold_ms,
        "delay_ms": state.delay_ms,
        **_floor(output.floor),
        "automatic": state.automatic.value,
        "rundown": [{"view": item.view, "params": dict(item.params), "name": item.name} for item in output.rundown],
        "rundown_digest": rundown_digest(output.rundown),
        "rundown_edits": state.edits,
    }
    if state.automatic_by is not None:
        data["automatic_by"] = state.automatic_by
    if state.programme is not None:
        data["programme"] = _programme_data(state.programme)
    if state.changed is not None:
        data["changed"] = {"id": state.changed.id, "unix_ms": state.changed.unix_ms, "by": state.changed.by}
        if output.timecode is not None:
            data["changed"]["timecode"] = time_of_day_label(state.changed.unix_ms, RATES[output.timecode])
    return data


def _programme_data(taken: ViewTaken) -> Frame:
    return {"id": taken.id, "view": taken.view, "params": dict(taken.params), "by": taken.by}
