"""How the server runs, at one instant: the figures behind /metrics and the page for the person who runs it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from tallywire.core.facts import wire_name
from tallywire.shell.helper.port import Condition
from tallywire.shell.live import LiveCompetition
from tallywire.shell.meters import Meters, Timings, at_share
from tallywire.shell.recorder import QUEUE_BOUND
from tallywire.shell.storage import StorageState


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """The times of the last minute: how many there were, and what half and 99 of 100 of them do not exceed."""

    count: int
    half_ms: float | None
    most_ms: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Inside:
    """One instant. `behind_s` is how old each background view is beyond what is known, `helper` what makes them;
    `disk_free`, `memory` and `helper_memory` are in bytes."""

    competition: str
    mode: str
    up_s: float
    lines: int
    clients: int
    watching: Mapping[str, int]
    watch_limit: int
    waiting: int
    waiting_most: int
    storage: StorageState
    epoch: int | None
    edge_behind_ms: int | None
    behind_s: Mapping[str, float]
    helper: Condition
    disk_free: int | None
    memory: int | None
    helper_memory: int | None
    meters: Meters
    recent: Mapping[str, Share]


def inside(live: LiveCompetition, *, disk_free: int | None, memory: Callable[[int | None], int | None]) -> Inside:
    """Read the figures of a live competition now. `memory` gives that of a process, of this one for None."""
    meters, now, helper = live.meters, live.clock.now(), live.helper.condition()
    named = {
        "answers": meters.answers,
        "commits": meters.commits,
        "counting": meters.counting,
        "publishing": meters.publishing,
        "late": meters.late,
    }
    return Inside(
        competition=live.competition.name,
        mode=live.mode,
        up_s=now - live.began_s,
        lines=live.lines,
        clients=live.clients,
        watching=dict(live.fan_out.watching()),
        watch_limit=live.fan_out.watch_limit,
        waiting=live.recorder.waiting,
        waiting_most=QUEUE_BOUND,
        storage=live.storage.now,
        epoch=live.storage.epoch,
        edge_behind_ms=live.storage.behind_ms,
        behind_s=live.behind_s,
        helper=helper,
        disk_free=disk_free,
        memory=memory(None),
        helper_memory=None if helper.pid is None else memory(helper.pid),
        meters=meters,
        recent={name: _share(timings, now) for name, timings in named.items()},
    )


def _share(timings: Timings, now: float) -> Share:
    times = timings.recent(now=now)
    return Share(count=len(times), half_ms=_ms(at_share(times, 0.5)), most_ms=_ms(at_share(times, 0.99)))


def _ms(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds * 1000, 1)


def inside_data(at: Inside) -> dict[str, Any]:
    """Give the figures as plain data, without what is not known."""
    more = {
        "epoch": at.epoch,
        "behind_ms": at.edge_behind_ms,
        "disk_free": at.disk_free,
        "memory": at.memory,
        "helper_memory": at.helper_memory,
    }
    return {
        "competition": at.competition,
        "mode": at.mode,
        "up_s": round(at.up_s),
        "journal": {"state": at.storage.state, "lines": at.lines, "waiting": at.waiting},
        "clients": at.clients,
        "watching": {view: count for view, count in sorted(at.watching.items()) if count},
        "slow": at.meters.slow,
        "let_go": at.meters.let_go,
        "facts": {wire_name(kind): count for kind, count in at.meters.facts.items()},
        "refused": dict(at.meters.refused),
        "frames": at.meters.frames.total(),
        "bytes": at.meters.bytes.total(),
        "recent": {name: _share_data(share) for name, share in at.recent.items()},
        "background_behind_s": {view: round(behind, 1) for view, behind in at.behind_s.items()},
        "helper": {"where": at.helper.where, "state": at.helper.state, "ended": dict(at.helper.ended)},
    } | {name: value for name, value in more.items() if value is not None}


def _share_data(share: Share) -> dict[str, float]:
    known = {"count": share.count, "half_ms": share.half_ms, "most_ms": share.most_ms}
    return {name: value for name, value in known.items() if value is not None}
