"""What is wrong with the server, for the person who runs it: what was found, and what to do.

The bounds are our own; docs/reliability.md lists them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from tallywire.shell.inside import Inside
from tallywire.shell.storage import OK
from tallywire.wire.catalogue import catalogue
from tallywire.wire.reasons import ENGLISH, Reason

ENOUGH = 20
"""So many answers in a minute say something about the time of one in a hundred."""
ANSWER_MS = 100.0
SLOW_PART_MS = 50.0
EDGE_BEHIND_MS = 1000
VIEW_BEHIND_S = 3.0
ENDED_S = 60.0
"""So long after the helper process has ended it is worth a word."""
FULL_SHARE = 0.9
QUEUE_SHARE = 0.5
DISK_FREE = 1_000_000_000


def ailments(at: Inside) -> list[Reason]:
    """Give everything that is wrong, what hurts most first; nothing when all is well."""
    return [reason for look in _LOOKS for reason in look(at)]


def sentence(reason: Reason) -> str:
    """Say it in English, for programs and the log."""
    text = reason.text(catalogue(ENGLISH))
    return text if text.endswith(".") else f"{text}."


def may_take(at: Inside) -> str:
    """Say why facts cannot be taken and shown now; empty when they can."""
    if at.storage.state == "held":
        return at.storage.message
    behind = at.edge_behind_ms or 0
    return f"the picture is {behind / 1000:.1f} s behind the writer" if behind > EDGE_BEHIND_MS else ""


def _journal(at: Inside) -> Iterator[Reason]:
    if at.storage.state != OK.state:
        yield Reason(at.storage.key)


def _queue(at: Inside) -> Iterator[Reason]:
    if at.waiting > at.waiting_most * QUEUE_SHARE:
        yield Reason("queue", {"waiting": at.waiting, "most": at.waiting_most})


def _edge(at: Inside) -> Iterator[Reason]:
    behind_ms = at.edge_behind_ms or 0
    if behind_ms > EDGE_BEHIND_MS:
        yield Reason("edge_behind", {"seconds": round(behind_ms / 1000, 1)})


def _answers(at: Inside) -> Iterator[Reason]:
    share = at.recent["answers"]
    if share.count >= ENOUGH and share.most_ms is not None and share.most_ms > ANSWER_MS:
        yield Reason(f"answers{_why(at)}", {"ms": round(share.most_ms)})


def _why(at: Inside) -> str:
    # A busy processor makes a commit look slow as well.
    if (at.recent["late"].most_ms or 0) > SLOW_PART_MS:
        return "_busy"
    return "_disk" if (at.recent["commits"].most_ms or 0) > SLOW_PART_MS else ""


def _lateness(at: Inside) -> Iterator[Reason]:
    late = at.recent["late"].most_ms or 0
    if late > ANSWER_MS:
        yield Reason("late", {"ms": round(late)})


def old_views(at: Inside) -> Iterator[Reason]:
    """Say which background views are behind the count, and what is wrong with the process that makes them."""
    ended_s = at.helper.ended_s
    is_new = ended_s is not None and ended_s < ENDED_S
    for view, behind in at.behind_s.items():
        if behind > VIEW_BEHIND_S:
            yield Reason(f"{view}_new" if is_new else f"{view}_busy", {"seconds": round(behind)})
    if is_new:
        yield Reason("replaced")


def _clients(at: Inside) -> Iterator[Reason]:
    if at.meters.slow:
        yield Reason("one_slow") if at.meters.slow == 1 else Reason("slow", {"clients": at.meters.slow})


def _room(at: Inside) -> Iterator[Reason]:
    watching = sum(at.watching.values())
    if watching > at.watch_limit * FULL_SHARE:
        yield Reason("views", {"views": watching, "most": at.watch_limit})
    if at.disk_free is not None and at.disk_free < DISK_FREE:
        yield Reason("disk_free", {"free": round(at.disk_free / 1e9, 1)})


_LOOKS: Sequence[Callable[[Inside], Iterator[Reason]]] = (
    _journal,
    _edge,
    _queue,
    _answers,
    _lateness,
    old_views,
    _clients,
    _room,
)
