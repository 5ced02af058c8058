"""Looking for the cues of a recording beside its playing: a rehearsal can go to them, and knows what was said."""

from __future__ import annotations

import time
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial

from tallywire.core.cues import CueDesk
from tallywire.core.facts import Fact
from tallywire.core.model.competition import Competition
from tallywire.core.rehearsal.moments import Found, cues_of, desks_of
from tallywire.shell.helper.worker import Worker
from tallywire.wire.cue_wording import default_wording

_REST_S = 0.002
"""So long the search rests after each second of a heat: the pictures and a jump come first."""


@dataclass(slots=True)
class _Heat:
    """What is known of a heat: its desk by the heat clock, and the cues once all are found."""

    clocks: list[int] = field(default_factory=list)
    desks: list[CueDesk] = field(default_factory=list)
    cues: Sequence[Found] = ()
    is_whole: bool = False


class CueSearch:
    """Searches one heat after the other. A new search ends the one before it."""

    def __init__(self, competition: Competition, worker: Worker) -> None:
        self._competition = competition
        self._worker = worker
        self._wording = default_wording(competition.language)
        self._heats: dict[str, _Heat] = {}

    def begin(self, heats: Sequence[str], facts: Sequence[Fact]) -> None:
        """Look through the heats of a recording."""
        found = self._heats = {heat: _Heat() for heat in heats}
        for heat in heats:
            self._worker.run(partial(self._look, heat, facts, found), lambda _nothing: None)

    def close(self) -> None:
        """Stop looking."""
        self._heats = {}
        self._worker.close()

    @property
    def still_looking(self) -> bool:
        """Whether there are heats whose cues are not all known yet."""
        return not all(heat.is_whole for heat in self._heats.values())

    @property
    def cues(self) -> list[Found]:
        """The cues of the heats that are known as a whole."""
        return [cue for heat in self._heats.values() for cue in heat.cues]

    def desk_at(self, heat: str, clock_ms: int) -> CueDesk:
        """Give the cue desk of a heat as it was at a time on its clock; one that has heard nothing if not known yet."""
        known = self._heats.get(heat)
        at = 0 if known is None else bisect_right(known.clocks, clock_ms)
        return CueDesk() if known is None or not at else known.desks[at - 1]

    def _look(self, heat: str, facts: Sequence[Fact], found: dict[str, _Heat]) -> None:
        into = found[heat]
        for clock_ms, desk in desks_of(self._competition, heat, facts):
            if found is not self._heats:
                return
            into.desks.append(desk)
            into.clocks.append(clock_ms)
            time.sleep(_REST_S)
        into.cues = cues_of(heat, zip(into.clocks, into.desks, strict=True), self._wording)
        into.is_whole = True
