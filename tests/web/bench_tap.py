"""Where the time of a tap goes, from a received message to the bytes of a frame. Run by hand: not a test.

PYTHONPATH=server:tests python tests/web/bench_tap.py
"""

from __future__ import annotations

import statistics
import time

from core.samples import Pad, competition, full_round
from tallywire.core.facts import Fact
from tallywire.shell.books import Books, Change
from tallywire.shell.clock import FakeClock
from tallywire.shell.read_model import ReadModel
from tallywire.shell.worked_out import WorkedOut
from tallywire.wire.cue_wording import default_wording
from tallywire.wire.merge_patch import diff
from tallywire.wire.session import Keep, Session
from tallywire.wire.text_frame import text_frame
from web.bench_fanout import patch_message
from wire.talk import facts, greeted, terms

LANES = (10, 20)
TAPS = 70
"""What a lane has left of five rounds, about."""


def bench_tap(lanes: int) -> None:
    """Print the steps from a received message to the frame's bytes, in the middle of a heat."""
    session, (books, views) = greeted(terms(work=competition(lanes=lanes)), "lane-1-b"), mid_heat(lanes)
    pad, known = Pad("lane-1-b", 1), views.frame("heat", "floor", views.snapshot())
    steps: dict[str, list[float]] = {"read": [], "fold": [], "diff": [], "encode": []}
    for n in range(TAPS):
        message = facts(pad.reps(120_000 + n * 900))
        marks = [time.perf_counter()]
        fact = taken(session, message)
        marks.append(time.perf_counter())
        books.add(fact, Change())
        frame = views.frame("heat", "floor", views.snapshot())
        marks.append(time.perf_counter())
        found = diff(known, frame)
        marks.append(time.perf_counter())
        framed = text_frame(patch_message(n, found))
        marks.append(time.perf_counter())
        known = frame
        for name, begin, end in zip(steps, marks, marks[1:], strict=False):
            steps[name].append((end - begin) * 1e6)
    whole = [sum(each) for each in zip(*steps.values(), strict=True)]
    medians = "  ".join(f"{name} {statistics.median(times):4.0f}" for name, times in [*steps.items(), ("all", whole)])
    print(f"  {lanes:3} lanes  {medians}  p99 of all {sorted(whole)[-TAPS // 100]:.0f}  ({len(framed)} bytes)")


def mid_heat(lanes: int) -> tuple[Books, ReadModel]:
    """Books in which every lane has two rounds behind it, a minute each."""
    books = Books(competition(lanes=lanes), clock=FakeClock(unix_ms=1_800_000_400_000))
    books.add(Pad("table-a").start(), Change())
    for lane in range(1, lanes + 1):
        pad = Pad(f"lane-{lane}-a", lane)
        for fact in full_round(pad, 0, step_ms=2000 + lane) + full_round(pad, 60_000, step_ms=2000 + lane):
            books.add(fact, Change())
    worked = {heat: WorkedOut() for heat in books.competition.heats}
    return books, ReadModel(books, worked, wording=default_wording(), mode="live")


def taken(session: Session, message: str) -> Fact:
    """The one fact that the session takes from a message."""
    [effect] = session.receive(message)
    assert isinstance(effect, Keep)
    fact = effect.batch.entries[0].fact
    assert fact is not None
    return fact


if __name__ == "__main__":
    print("tap to bytes, us, medians")
    for count in LANES:
        bench_tap(count)
