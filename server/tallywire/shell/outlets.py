"""Outlets: views handed out to other systems. Whatever a client asks for is encoded once for each change, for all.

An outlet is one view of one heat. While somebody reads it, it watches that view like any client of the wire, so its
frame is made by the fan-out and by nobody else; a while after the last one has asked, it stops.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any, Literal

import orjson

from tallywire.core.outlets.columns import ROW_KINDS
from tallywire.core.outlets.csv_text import csv_text
from tallywire.core.outlets.rows import flat_rows, handed_out
from tallywire.shell.clock import Timer
from tallywire.shell.live import LiveCompetition
from tallywire.shell.transport import TransportListener
from tallywire.wire.event_stream import event
from tallywire.wire.messages import Watch

Form = Literal["frame.json", "rows.json", "rows.csv", "frame.events", "rows.events"]
FOR_KEYS: Mapping[str, frozenset[str]] = {"subjects": frozenset({"desk", "table", "head", "owner"})}
"""Views that say who is under a medical hold, and the roles whose work needs that; `table` is guarded by the wire."""
IDLE_S = 10.0
"""So long after the last request an outlet goes on watching."""
_DIGEST = 32


@dataclass(frozen=True, slots=True)
class Handed:
    """What is handed out: the bytes, and the name that all who hand out the same bytes give them."""

    name: str
    body: bytes


def _frame_json(frame: Mapping[str, Any]) -> bytes:
    return orjson.dumps(handed_out(frame))


def _rows_json(frame: Mapping[str, Any]) -> bytes:
    return orjson.dumps(flat_rows(frame))


def _rows_csv(frame: Mapping[str, Any]) -> bytes:
    return csv_text(flat_rows(frame), [column.name for column in ROW_KINDS[frame["view"]].columns]).encode()


_ENCODERS: Mapping[str, Callable[[Mapping[str, Any]], bytes]] = {
    "frame.json": _frame_json,
    "rows.json": _rows_json,
    "rows.csv": _rows_csv,
}


class Outlet:
    """One view of one heat, and who waits for its next change."""

    def __init__(self, live: LiveCompetition, view: str, heat: str) -> None:
        self._live = live
        self._key = (view, heat)
        self._subscriber = live.fan_out.join(_Ear(self._forget))
        self._kept: dict[str, Handed] = {}
        self.listeners: set[Callable[[], None]] = set()
        self.used_s = live.clock.now()

    def begin(self) -> None:
        """Begin to watch. Raises NotAllowed when all clients together watch too much."""
        view, heat = self._key
        self._live.watch(self._subscriber, Watch.model_construct(type="watch", view=view, heat=heat))

    def newest(self, form: Form) -> Handed:
        """Give the newest frame in a form; an event of it for the forms that are streams."""
        kept = self._kept.get(form)
        if kept is None:
            kept = self._kept[form] = self._encoded(form)
        return kept

    def leave(self) -> None:
        """Stop watching."""
        self._subscriber.leave()

    def wake(self) -> None:
        """Tell everyone who waits for a change."""
        for listener in tuple(self.listeners):
            listener()

    def _encoded(self, form: Form) -> Handed:
        what, _, form_of = form.partition(".")
        if form_of == "events":
            whole = self.newest("frame.json" if what == "frame" else "rows.json")
            return Handed(whole.name, event(whole.body, name=what, number=whole.name))
        body = _ENCODERS[form](self._live.fan_out.feed(*self._key).channel.frame)
        return Handed(sha256(body).hexdigest()[:_DIGEST], body)

    def _forget(self) -> None:
        self._kept.clear()
        self.wake()


class Outlets:
    """Every outlet that is in use."""

    def __init__(self, live: LiveCompetition) -> None:
        self._live = live
        self._open: dict[tuple[str, str], Outlet] = {}
        self._timer: Timer | None = None
        self.closing = False

    async def outlet(self, view: str, heat: str) -> Outlet:
        """Give the outlet of a view, as `seen_view` names it, of a heat (an id, or a floor). Raises NotAllowed."""
        found = self.opened(view, heat)
        if found is None:
            found = Outlet(self._live, view, heat)
            found.begin()
            self._open[(view, heat)] = found
            self._look_later()
            await self._live.prepared(view, heat)
            self._live.fan_out.newest(view, heat)
        return found

    def opened(self, view: str, heat: str) -> Outlet | None:
        """Give the outlet if it is in use; its view is made by now or soon."""
        found = self._open.get((view, heat))
        if found is not None:
            found.used_s = self._live.clock.now()
        return found

    def close(self) -> None:
        """End every stream: the server stops."""
        self.closing = True
        for outlet in self._open.values():
            outlet.wake()
        if self._timer is not None:
            self._timer.cancel()

    def _look_later(self) -> None:
        if self._timer is None and self._open and not self.closing:
            self._timer = self._live.clock.call_at(self._live.clock.now() + IDLE_S, self._look)

    def _look(self) -> None:
        self._timer, since_s = None, self._live.clock.now() - IDLE_S
        for key, outlet in tuple(self._open.items()):
            if not outlet.listeners and outlet.used_s <= since_s:
                outlet.leave()
                del self._open[key]
        self._look_later()


class _Ear:
    """A transport that sends nothing: it only hears that there is something new."""

    is_open = is_ready = True

    def __init__(self, changed: Callable[[], None]) -> None:
        self._changed = changed

    def write(self, _frame: bytes) -> None:
        """Hear that the frame changed."""
        self._changed()

    def write_all(self, _frames: Sequence[bytes]) -> None:
        """Hear that there are several."""
        self._changed()

    def say(self, _payload: bytes) -> None:
        """Hear that there is a frame."""
        self._changed()

    def listen(self, _listener: TransportListener) -> None:
        """There is nothing to tell: this transport is never slow, and never closed."""

    async def ready(self) -> None:
        """Be ready."""

    async def flush(self) -> None:
        """Have nothing waiting."""

    def abort(self) -> None:
        """Have nothing to cut."""
