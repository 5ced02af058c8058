"""What was worked out for a heat in the background, kept for the next one who asks."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from tallywire.core.cues import CueDesk
from tallywire.core.facts import HeatStarted

CALL = "call"
STANDINGS = "standings"
STALLS = "stalls"
"""Not a view: when the lanes of a heat have stalled."""
Frame = dict[str, Any]


@dataclass(slots=True)
class WorkedOut:
    """The newest frames of one heat by view, which of them are kept up to date (`current`), and its cue desk.

    `old_ms` says of the views that are kept up to date too slowly how old their frames are.
    """

    frames: dict[str, Frame] = field(default_factory=dict)
    current: set[str] = field(default_factory=set)
    old_ms: dict[str, int] = field(default_factory=dict)
    desk: CueDesk = field(default_factory=CueDesk)
    started: HeatStarted | None = None

    def newest(self, view: str) -> Frame | None:
        """Give the frame of a view, with its age where it is old; None while it is not kept up to date."""
        if view not in self.current:
            return None
        frame, old_ms = self.frames[view], self.old_ms.get(view)
        return frame if old_ms is None else frame | {"old_ms": old_ms}

    def keep(self, view: str, frame: Frame) -> None:
        """Keep a frame that was just made."""
        self.frames[view] = frame
        self.current.add(view)
        self.old_ms.pop(view, None)

    def let_go(self, view: str) -> None:
        """Keep a view up to date no more."""
        self.current.discard(view)
        self.old_ms.pop(view, None)

    def desk_of(self, started: HeatStarted | None) -> CueDesk:
        """Give the cue desk of this start of the heat; after another start it begins anew."""
        return self.desk if self.started == started else CueDesk()

    def keep_desk(self, desk: CueDesk, started: HeatStarted | None) -> None:
        """Keep the desk as it is after it has listened."""
        self.desk, self.started = desk, started

    @property
    def exact(self) -> bool:
        """Whether what is needed overall has an exact answer, by the newest call; True while there is none."""
        overall = self.frames.get(CALL, {}).get("overall", {})
        return not overall or any("not_worked_out" not in each for each in overall.values())
