"""The silences after which lanes have stalled, worked out beside the way of a tap from each lane's own forecast."""

from __future__ import annotations

from collections.abc import Mapping

from tallywire.core.fold.snapshot import Snapshot
from tallywire.shell.helper.port import Asked, Helper
from tallywire.shell.worked_out import STALLS

EVERY_MS = 5_000
"""A lane's pace changes slowly; a heat of twenty lanes takes some milliseconds of another thread."""


class Stalls:
    """What is known of each heat that runs. Wall times are Unix milliseconds."""

    def __init__(self, helper: Helper) -> None:
        self._helper = helper
        self._known: dict[str, Mapping[int, int]] = {}
        self._asked_ms: dict[str, int] = {}

    def begin_anew(self) -> None:
        """Forget what is known; an answer that is still being worked out is kept, and soon replaced."""
        self._known.clear()
        self._asked_ms.clear()

    def of(self, heat: str) -> Mapping[int, int]:
        """Give, by lane, after how many milliseconds without a fact it has stalled; empty while nothing is known."""
        return self._known.get(heat, {})

    def look(self, snapshot: Snapshot) -> None:
        """Have the heats that run worked out anew, each once in a while."""
        for name, heat in snapshot.heats.items():
            due = snapshot.unix_ms - self._asked_ms.get(name, -EVERY_MS) >= EVERY_MS
            if due and heat.started is not None and not heat.over:
                self._asked_ms[name] = snapshot.unix_ms
                self._ask(name)

    def _ask(self, heat: str) -> None:
        def done(found: Mapping[int, int] | None) -> None:
            self._known[heat] = found or {}

        self._helper.ask(lambda: Asked(what=STALLS, heat=heat), done)
