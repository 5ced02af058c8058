"""What a whole call and the standings beside it cost late in a competition of 112,000 facts, step by step.

    PYTHONPATH=server:tests python tests/core/bench_call.py

Twenty lanes race in the last event of seven, in a division of forty; five facts come between two calls. Medians of the
processor's milliseconds, which a busy machine stretches least, and a digest of all frames: it stays the same when only
the cost changes.
"""

from __future__ import annotations

import gc
import hashlib
import json
import os
import time
from itertools import pairwise
from statistics import median
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from core import bench_recompute
from core.bench_recompute import CAP_MS, performances, trials
from tallywire.core.call.steps import see
from tallywire.core.call.whole import listen, look_ahead, make_call
from tallywire.core.cues import CueDesk
from tallywire.core.fold.book import LATER_MS, CompetitionBook
from tallywire.core.standings.change import sight_of
from tallywire.core.views.standings import standings_frame
from tallywire.wire.cue_wording import default_wording

LANES, CALLS, APART = 20, 25, 5
STEPS = ("see", "forecast", "cues", "call", "standings")


class Late:
    """The book from the sixth tenth of the last but one heat on."""

    def __init__(self) -> None:
        bench_recompute.LANES = LANES
        self.competition = trials()
        heats = list(self.competition.heats)
        facts, self.heat = list(performances(self.competition, every_rep=True)), heats[-2]
        own = sorted((f for f in facts if f.heat == self.heat and f.at_ms < CAP_MS), key=lambda fact: fact.at_ms)
        over = {heat: n for n, heat in enumerate(heats[:-2])}
        begun = [fact for fact in own if fact.at_ms <= 0.6 * own[-1].at_ms]
        self.coming = own[len(begun) :]
        self.book = CompetitionBook(self.competition, [*(fact for fact in facts if fact.heat in over), *begun])
        self.clock_ms, self.desk, self.wording = begun[-1].at_ms, CueDesk(), default_wording()

    def call(self) -> tuple[list[float], list[dict[str, Any]]]:
        """Make the call and the standings; give what each step took, and the frames."""
        snapshot = self.book.at_clocks({self.heat: self.clock_ms}, others_ms=LATER_MS)
        heat, laps = snapshot.heats[self.heat], [time.thread_time()]
        sight = see(snapshot, heat)
        laps.append(time.thread_time())
        outlook = look_ahead(self.competition, sight)
        laps.append(time.thread_time())
        self.desk = listen(self.competition, self.desk, sight, outlook)
        laps.append(time.thread_time())
        call = make_call(self.competition, sight, outlook, desk=self.desk, wording=self.wording)
        laps.append(time.thread_time())
        standings = standings_frame(self.competition, sight_of(snapshot, heat))
        laps.append(time.thread_time())
        return [1000 * (end - begin) for begin, end in pairwise(laps)], [call, standings]


def main() -> None:
    """Print the first call, and the medians of those that follow."""
    late = Late()
    gc.disable()
    print("first: ", "  ".join(f"{step} {ms:.0f}" for step, ms in zip(STEPS, late.call()[0], strict=True)), "ms")
    took, digest = [], hashlib.sha256()
    for n in range(CALLS):
        for fact in late.coming[APART * n : APART * (n + 1)]:
            late.book.add(fact)
            late.clock_ms = fact.at_ms
        laps, frames = late.call()
        took.append(laps)
        digest.update(json.dumps(frames, sort_keys=True).encode())
    middle = [median(each) for each in zip(*took, strict=True)]
    steps = "  ".join(f"{step} {ms:.1f}" for step, ms in zip(STEPS, middle, strict=True))
    print("median:", steps, f"ms, together {sum(middle):.1f}; frames {digest.hexdigest()[:12]}")


if __name__ == "__main__":
    main()
