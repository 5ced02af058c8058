"""What the commentator is told in a format: the facet that a format fills unless it is one plain count."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from tallywire.core.cues.counted import round_cues, unbroken_cues
from tallywire.core.cues.cue import KINDS, Cue, CueRules, Kind
from tallywire.core.cues.finishes import finish_cues
from tallywire.core.cues.observation import Observation, Said
from tallywire.core.cues.wins import timed
from tallywire.core.fold.heat import LaneState
from tallywire.core.formats.registry import format_of, formats
from tallywire.core.model.workout import Workout


class FormatCues:
    """The questions that cues ask a format, answered for work that is one count from start to end.

    `kinds` are the kinds of cue that a format has of its own. `has_run_in` says that the leader's last reps are
    exciting enough for only urgent cues to come up beside them.
    """

    kinds: ClassVar[tuple[Kind, ...]] = ()
    has_run_in: ClassVar[bool] = True

    def milestones(self, observation: Observation, rules: CueRules, lanes: list[LaneState]) -> Iterator[Cue]:
        """Give what stands in the state of the heat for one division, best lane first, however long ago it was."""
        yield from finish_cues(observation, rules, lanes)
        yield from timed(observation, lanes)
        if observation.is_counted and len(lanes) > 1:
            yield from round_cues(observation, lanes)
            yield from unbroken_cues(observation, rules, lanes)

    def leads_are_live(self, _workout: Workout) -> bool:
        """Tell whether there is a leader at every moment, so that a change of the lead is told at once."""
        return True

    def lead_words(self, _observation: Observation, leader: LaneState) -> Said:
        """Give the beginning of the template that tells of a lead taken or traded, and where it was."""
        return "lead", {"round": leader.position.round}

    def home_at_ms(self, _observation: Observation, lane: LaneState) -> int | None:
        """Give the time on the heat clock when a lane finished; None if it has not."""
        return lane.finish_ms

    def misses(self, _observation: Observation, lane: LaneState) -> Said | None:
        """Give the template for a run of no-reps on a lane and where it was; None where other cues tell of it."""
        return "no_reps", {"movement": lane.position.station.movement}


def every_kind() -> tuple[Kind, ...]:
    """Give the kinds of every format, the heaviest first."""
    own = (kind for each in formats() for kind in each.facet(FormatCues).kinds)
    return tuple(sorted((*KINDS, *own), key=lambda kind: -kind.weight))


def cues_of(observation: Observation) -> FormatCues:
    """Give the facet of the format that is on the floor."""
    return format_of(observation.state.event.workout).facet(FormatCues)
