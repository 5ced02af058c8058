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
    """What is known of a heat: its desk by the heat clock, and the cues by language once all are found."""

    clocks: list[int] = field(default_factory=list)
    desks: list[CueDesk] = field(default_factory=list)
    said: dict[str, Sequence[Found]] = field(default_factory=dict)
    is_whole: bool = False


class CueSearch:
    """Searches one heat after the other. A new search ends the one before it."""

    def __init__(self, competition: Competition, worker: Worker) -> None:
        self._competition = competition
        self._worker = worker
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

    def cues(self, language: str = "") -> list[Found]:
        """Give the cues of the heats that are known as a whole, in a language; in the competition's unless said."""
        asked = language or self._competition.language
        whole = [(name, heat) for name, heat in self._heats.items() if heat.is_whole]
        return [cue for name, heat in whole for cue in _said(name, heat, asked)]

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
        _said(heat, into, self._competition.language)
        into.is_whole = True


def _said(name: str, heat: _Heat, language: str) -> Sequence[Found]:
    if language not in heat.said:
        steps = zip(heat.clocks, heat.desks, strict=True)
        heat.said[language] = cues_of(name, steps, default_wording(language))
    return heat.said[language]
