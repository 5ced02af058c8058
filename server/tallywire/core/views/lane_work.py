"""A lane's own work as data: the next mark, plain totals, and how often a no-rep was called."""

from __future__ import annotations

from collections.abc import Sequence

from tallywire.core.fold.heat import LaneState
from tallywire.core.formats.base import Status, Tally
from tallywire.core.gaps.marks import Total, totals
from tallywire.core.gaps.marks import ahead as marks_ahead
from tallywire.core.gaps.pace import no_rep_rate
from tallywire.core.model.workout import Plan
from tallywire.core.views.format_views import Frame


def mark_data(plan: Plan, lane: LaneState) -> Frame:
    """Give the next `mark` of a lane that is in the heat, with the scored reps to it and to the end of the round."""
    found = None if lane.status not in (Status.READY, Status.WORKING) else marks_ahead(plan, lane.tally.done)
    if found is None:
        return {}
    mark = {
        "scored": found.next.scored,
        "ends": found.next.ends.value,
        "round": found.next.round,
        "movement": found.next.movement,
        "to_it": found.reps_to_next,
        "to_round_end": found.reps_to_round_end,
    }
    return {"mark": mark}


def totals_data(plan: Plan, lane: LaneState, tallies: Sequence[Tally]) -> list[Frame]:
    """Give the work of one or several tallies in plain totals, kilograms where they are known of all."""
    found: dict[tuple[str, str], list[Total]] = {}
    for total in (each for tally in tallies for each in totals(plan, tally.done, lane.entry.division)):
        found.setdefault((total.movement, total.unit), []).append(total)
    return [
        {"movement": movement, "unit": unit, "amount": sum(each.amount for each in own)} | _kilograms(own)
        for (movement, unit), own in found.items()
    ]


def misses_data(lane: LaneState) -> Frame:
    """Give the share of a lane's attempts at a repetition that were called no-reps."""
    return {"no_rep_share": round(no_rep_rate(lane.tally), 2)}


def _kilograms(own: Sequence[Total]) -> Frame:
    known = [each.kg for each in own if each.kg is not None]
    return {"kg": round(sum(known), 1)} if len(known) == len(own) else {}
