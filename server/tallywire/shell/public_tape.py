"""What the competition looked like at each half second of the last while, as the journal's own times tell it.

The public feed is behind the broadcast on purpose, and every server must make the same bytes of the same moment. So a
picture belongs to a moment of the grid, one in every half second of wall time, and rests on exactly the lines that the
writer received up to it: those that are read later, by an edge or after a restart, still fall to the moment to which
they belong. Before a line of a later moment is taken, the books are frozen.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from tallywire.core.fold.snapshot import Snapshot
from tallywire.shell.books import Books
from tallywire.shell.clock import Clock

GRID_MS = 500
PHASE_MS = 300
"""Moments are 0.3 and 0.8 s after each second: SETTLE_MS later, when their pictures are ready, it is 50 ms before a
half second begins, at which caches ask anew; so clocks may differ by as much."""
SEGMENT_MS = 20_000
KEPT_MS = 60_000
"""The longest delay of an output (30 s), the age of a segment's picture (20 s), and some."""
TOLD_MS = KEPT_MS + GRID_MS
"""Of lines that are older than this when a start reads them, only what they add up to matters."""


def moment_from(unix_ms: int) -> int:
    """Give the first moment of the grid that is not before a time."""
    return -((PHASE_MS - unix_ms) // GRID_MS) * GRID_MS + PHASE_MS


def moment_until(unix_ms: int, *, apart_ms: int = GRID_MS) -> int:
    """Give the last moment of the grid that is not after a time; with SEGMENT_MS, the last that begins a segment."""
    return (unix_ms - PHASE_MS) // apart_ms * apart_ms + PHASE_MS


@dataclass(frozen=True, slots=True)
class Frozen:
    """The competition as of a moment (`unix_ms`), with the journal's lines up to number `position`."""

    unix_ms: int
    position: int
    snapshot: Snapshot


class Tape:
    """Frozen moments, newest last. It is told of each line before the books take it."""

    def __init__(self, books: Books, *, clock: Clock) -> None:
        self._books = books
        self._clock = clock
        self._since_ms = clock.unix_ms() - KEPT_MS
        self._due_ms = 0
        self._position = 0
        self._kept: deque[Frozen] = deque()
        self._reads_on = False
        self._begun_ms = 0

    def begin_anew(self) -> None:
        """Forget every frozen moment: what was before now looks as it does now, in a rehearsal that has jumped."""
        self._kept.clear()
        self._begun_ms = self._due_ms = self._clock.unix_ms() // GRID_MS * GRID_MS

    def pass_lines(self, received_unix_ms: int, *, count: int = 1) -> None:
        """Freeze the books if lines that the writer received then belong to a later moment than those before."""
        due_ms = moment_from(received_unix_ms)
        if due_ms < self._due_ms - KEPT_MS:
            # The writer's clock was set back: what was frozen by it is of no moment to come.
            self._kept.clear()
            self._due_ms = due_ms
        elif due_ms > self._due_ms:
            if due_ms > self._since_ms:
                self._freeze_before(due_ms)
            self._due_ms = due_ms
        self._position += count

    @property
    def until_ms(self) -> int:
        """Until then it does not matter how the books were when lines came that were received then."""
        return self._since_ms - GRID_MS

    def pass_old(self, received_unix_ms: int, *, count: int) -> None:
        """Hear of lines that all came before the last while, whatever their time says."""
        self._kept.clear()
        self._due_ms = moment_from(received_unix_ms)
        self._position += count

    def begin(self) -> None:
        """From now on lines come as they are written; those before were read in one go."""
        self._reads_on = True
        if self._clock.unix_ms() < self._due_ms - KEPT_MS:
            # The lines are from a clock that was ahead; this one never comes to their moments.
            self.begin_anew()

    def _freeze_before(self, due_ms: int) -> None:
        # Freezing folds what is not folded yet. So of what is read in one go only the moments at which segments are
        # closed are kept, three or four: until the delay has passed, the pictures between are those of these moments.
        last_ms = due_ms - GRID_MS if self._reads_on else moment_until(due_ms - 1, apart_ms=SEGMENT_MS)
        if self._reads_on or not self._kept:
            self._freeze(self._due_ms)
        if last_ms >= self._due_ms:
            self._freeze(last_ms)

    def look(self) -> None:
        """Freeze the books when they change without a line: at the cap, at the end of a window."""
        self._freeze(max(self._due_ms, moment_from(self._clock.unix_ms())))

    def at(self, unix_ms: int) -> Frozen | None:
        """Give the competition at a moment of the grid; None when that is too long ago, or before this server's time.

        A line that took longer to the journal than the feed is behind falls to the next moment.
        """
        unix_ms = max(unix_ms, self._begun_ms)
        if unix_ms >= self._due_ms:
            return self._frozen(unix_ms)
        return next((each for each in reversed(self._kept) if each.unix_ms <= unix_ms), None)

    def _freeze(self, unix_ms: int) -> None:
        if self._kept and self._kept[-1].unix_ms >= unix_ms:
            return
        self._kept.append(self._frozen(unix_ms))
        # The one before those of the last minute says how its beginning was.
        while len(self._kept) > 1 and self._kept[1].unix_ms <= unix_ms - KEPT_MS:
            self._kept.popleft()

    def _frozen(self, unix_ms: int) -> Frozen:
        return Frozen(unix_ms, self._position, self._books.snapshot_at(unix_ms))
