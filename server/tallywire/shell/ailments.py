"""What is wrong with the server, in words for the person who runs it: what was found, and what to do.

The bounds are our own; docs/reliability.md lists them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from tallywire.shell.inside import Inside
from tallywire.shell.storage import OK

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


def ailments(at: Inside) -> list[str]:
    """Say everything that is wrong, what hurts most first; nothing when all is well."""
    return [words for look in _LOOKS for words in look(at)]


def may_take(at: Inside) -> str:
    """Say why facts cannot be taken and shown now; empty when they can."""
    if at.storage.state == "held":
        return at.storage.message
    behind = at.edge_behind_ms or 0
    return f"the picture is {behind / 1000:.1f} s behind the writer" if behind > EDGE_BEHIND_MS else ""


def _journal(at: Inside) -> Iterator[str]:
    if at.storage.state != OK.state:
        yield f"{at.storage.message[:1].upper()}{at.storage.message[1:]}."


def _queue(at: Inside) -> Iterator[str]:
    if at.waiting > at.waiting_most * QUEUE_SHARE:
        yield (
            f"{at.waiting:,} facts wait to be written, of at most {at.waiting_most:,}: "
            "the disk does not keep up. Nothing is lost, but pads are answered late."
        )


def _edge(at: Inside) -> Iterator[str]:
    behind_ms = at.edge_behind_ms or 0
    if behind_ms > EDGE_BEHIND_MS:
        yield f"This edge is {behind_ms / 1000:.1f} s behind: look at its link to Redis, and at the writer."


def _answers(at: Inside) -> Iterator[str]:
    share = at.recent["answers"]
    if share.count >= ENOUGH and share.most_ms is not None and share.most_ms > ANSWER_MS:
        waited = f"one message in a hundred waited {share.most_ms:.0f} ms or longer for its answer"
        yield f"In the last minute {waited}{_why(at)}."


def _why(at: Inside) -> str:
    # A busy processor makes a commit look slow as well.
    if (at.recent["late"].most_ms or 0) > SLOW_PART_MS:
        return ", because the processor is busy: close other programs, or watch fewer views"
    if (at.recent["commits"].most_ms or 0) > SLOW_PART_MS:
        return ", because the disk is slow: another program writes to it, or it fails"
    return ""


def _lateness(at: Inside) -> Iterator[str]:
    late = at.recent["late"].most_ms or 0
    if late > ANSWER_MS:
        yield f"The server came up to {late:.0f} ms late to its own work in the last minute: the machine is too busy."


def old_views(at: Inside) -> Iterator[str]:
    """Say which background views are behind the count, and what is wrong with the process that makes them."""
    ended, ended_s = at.helper.ended, at.helper.ended_s
    is_new = ended_s is not None and ended_s < ENDED_S
    for view, behind in at.behind_s.items():
        if behind > VIEW_BEHIND_S:
            why = "the process that makes it is new" if is_new else "the processor is busy"
            yield f"The {view} is {behind:.0f} s behind the count: {why}. {_NOT_AFFECTED}"
    if is_new:
        times = " and ".join(f"{_ENDED[why]} {_times(count)}" for why, count in ended.items())
        yield f"The process that makes the call and the standings was replaced: it {times}. {_NOT_AFFECTED}"


_NOT_AFFECTED = "Counts and results are not affected."
_ENDED = {"died": "ended by itself", "hung": "gave no answer", "failed": "could not be run"}


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _clients(at: Inside) -> Iterator[str]:
    if at.meters.slow:
        those = "One client reads" if at.meters.slow == 1 else f"{at.meters.slow} clients read"
        yield f"{those} too slowly and misses pictures in between: a slow network or device. The others lose nothing."


def _room(at: Inside) -> Iterator[str]:
    watching = sum(at.watching.values())
    if watching > at.watch_limit * FULL_SHARE:
        yield f"{watching:,} views are watched, of at most {at.watch_limit:,}: send the public to the public page."
    if at.disk_free is not None and at.disk_free < DISK_FREE:
        yield f"{at.disk_free / 1e9:.1f} GB are free on the disk of the journal: make room on it."


_LOOKS: Sequence[Callable[[Inside], Iterator[str]]] = (
    _journal,
    _edge,
    _queue,
    _answers,
    _lateness,
    old_views,
    _clients,
    _room,
)
