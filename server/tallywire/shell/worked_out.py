"""What was worked out for a heat in the background, kept for the next one who asks."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from tallywire.core.cues import CueDesk
from tallywire.core.facts import HeatStarted
from tallywire.core.fold.snapshot import HeatSnapshot

CALL = "call"
STANDINGS = "standings"
Frame = dict[str, Any]


@dataclass(slots=True)
class WorkedOut:
    """The newest frames of one heat by view, which of them are kept up to date (`current`), and its cue desk."""

    frames: dict[str, Frame] = field(default_factory=dict)
    current: set[str] = field(default_factory=set)
    desk: CueDesk = field(default_factory=CueDesk)
    started: HeatStarted | None = None

    def newest(self, view: str) -> Frame | None:
        """Give the frame of a view; None while it is not kept up to date."""
        return self.frames.get(view) if view in self.current else None

    def desk_of(self, heat: HeatSnapshot) -> CueDesk:
        """Give the cue desk of this start of the heat; after another start it begins anew."""
        return self.desk if self.started == heat.started else CueDesk()

    def keep_desk(self, desk: CueDesk, started: HeatStarted | None) -> None:
        """Keep the desk as it is after it has listened."""
        self.desk, self.started = desk, started

    @property
    def exact(self) -> bool:
        """Whether what is needed overall has an exact answer, by the newest call; True while there is none."""
        overall = self.frames.get(CALL, {}).get("overall", {})
        return not overall or any("not_worked_out" not in each for each in overall.values())
