"""Fan-out: each view is folded, compared, encoded and framed once, then written straight to every subscriber.

No client has a task or a queue of its own. Time is cut into ticks. A feed sends once in a tick: its first change at
once, those that follow together when the next tick begins. What was looked at and had not changed, or another feed
sent, keeps nobody waiting.
"""

from __future__ import annotations

import logging
from collections import Counter
from collections.abc import Callable, Container, Sequence
from typing import Any, Protocol

from tallywire.core.errors import NotAllowed
from tallywire.core.fold.snapshot import Snapshot
from tallywire.shell.clock import Clock, Timer
from tallywire.shell.meters import Meters
from tallywire.shell.transport import Transport
from tallywire.wire.channel import Channel
from tallywire.wire.session import view_name
from tallywire.wire.text_frame import text_frame

TICK_S = 1 / 25
STALL_S = 30.0
VIEWS_A_CLIENT = 9
_log = logging.getLogger(__name__)

Key = tuple[str, str]


class Frames(Protocol):
    """Where frames come from: all frames made at one time are made from one snapshot."""

    def snapshot(self) -> Snapshot:
        """Freeze the competition now."""
        ...

    def frame(self, view: str, heat: str, snapshot: Snapshot) -> dict[str, Any]:
        """Give the frame of a view as of a snapshot."""
        ...


class Feed:
    """A channel and the write functions of those who watch it and keep up."""

    def __init__(self, view: str, channel: Channel) -> None:
        self.view = view
        self.channel = channel
        self.writes: dict[Subscriber, Callable[[bytes], object]] = {}
        self.dirty = False
        self.sent_until = 0.0
        """The end of the tick in which it has sent."""

    def publish(self, frame: dict[str, Any], *, unix_ms: int) -> bytes | None:
        """Take a newer frame. Gives what has changed, None when nothing has."""
        self.dirty = False
        return self.channel.publish(frame, unix_ms=unix_ms)

    def write(self, message: bytes, together: Together | None = None) -> int:
        """Send a message to everyone who keeps up; gives how many bytes each of them was sent.

        Who watches other views too is not sent it yet when there is a place where it can wait for their frames.
        """
        framed = text_frame(message)
        # A copy: a write may pause its client, which takes itself out of the dict.
        if together is None:
            for write in tuple(self.writes.values()):
                write(framed)
        else:
            for subscriber, write in tuple(self.writes.items()):
                if subscriber.watches_several:
                    together.setdefault(subscriber, []).append(framed)
                else:
                    write(framed)
        return len(framed)


class FanOut:
    """Every feed, and when they are published: all that are due at once, from one snapshot."""

    def __init__(
        self,
        frames: Frames,
        *,
        clock: Clock,
        make_epoch: Callable[[], str],
        watch_limit: int = 20_000,
        meters: Meters | None = None,
    ) -> None:
        self.meters = meters or Meters()
        self.clock = clock
        self._frames = frames
        self._make_epoch = make_epoch
        self.watch_limit = watch_limit
        self._feeds: dict[Key, Feed] = {}
        self._parts: dict[Key, list[Feed]] = {}
        self._timer: Timer | None = None
        self._until = clock.now()
        """The end of this tick."""
        self.watches = 0

    def join(self, transport: Transport) -> Subscriber:
        """Let a client watch. It is sent nothing until it asks for a view."""
        return Subscriber(self, transport)

    def feed(self, view: str, heat: str) -> Feed:
        """Give a feed, made on first use; its frame is new, unless a tick is about to bring a newer one.

        What stands behind a slash in the view's name says which part of it this is; those who watch are not told.
        """
        feed = self._feeds.get((view, heat))
        if feed is None:
            now = self._frames.snapshot()
            frame, epoch = self._frames.frame(view, heat, now), self._make_epoch()
            name = view_name(view)
            feed = Feed(view, Channel(view=name, heat=heat, epoch=epoch, frame=frame, unix_ms=now.unix_ms))
            self._feeds[(view, heat)] = feed
            self._parts.setdefault((name, heat), []).append(feed)
        elif feed.dirty and not feed.writes:
            self._refresh(feed, self._frames.snapshot())
        return feed

    def newest(self, view: str, heat: str) -> Feed:
        """Give a feed whose frame has everything so far, for clients that were just told that their fact is kept."""
        feed = self.feed(view, heat)
        if feed.dirty:
            self._refresh(feed, self._frames.snapshot())
        return feed

    def watched(self, view: str, heat: str) -> bool:
        """Tell whether somebody watches a view of a heat (an id, or a floor), or a part of it, and keeps up."""
        return any(feed.writes for feed in self._parts.get((view, heat), ()))

    def is_watched(self, view: str) -> bool:
        """Tell whether somebody watches a view of any heat and keeps up."""
        return any(feed.writes for feed in self._feeds.values() if feed.channel.view == view)

    def watching(self) -> Counter[str]:
        """Count those who watch and keep up, by view."""
        counted: Counter[str] = Counter()
        for feed in self._feeds.values():
            counted[feed.channel.view] += len(feed.writes)
        return counted

    def mark(self, heats: Container[str], *, views: Container[str], snapshot: Snapshot | None = None) -> None:
        """Say that the frames of these views of these heats (ids, or floors) may have changed.

        A frame that is due at once is made from `snapshot`, if one of this very instant exists already.
        """
        for (_, heat), feed in self._feeds.items():
            feed.dirty = feed.dirty or (heat in heats and feed.channel.view in views)
        self._publish(snapshot)

    def begin_anew(self, snapshot: Snapshot) -> None:
        """Send every view that is watched as a whole frame, made from `snapshot`: no patch leads there from before.

        Those who do not keep up now, or come back later with an earlier frame, get a whole one as well.
        """
        together: Together = {}
        for feed in self._feeds.values():
            feed.dirty = True
            if feed.writes:
                self._refresh(feed, snapshot, tell=False)
            feed.channel.begin_anew(epoch=self._make_epoch())
            self._write(feed, feed.channel.snapshot(), together)
        _write_all(together)

    def count(self, change: int) -> None:
        """Count watches. Raises NotAllowed when there are too many already."""
        if change > 0 and self.watches + change > self.watch_limit:
            raise NotAllowed(f"found {self.watches} views watched, expected at most {self.watch_limit}: try later")
        self.watches += change

    def _publish(self, snapshot: Snapshot | None = None) -> None:
        """Send what has not sent in this tick, and have the rest sent when the next one begins."""
        self._turn()
        waiting = [feed for feed in self._feeds.values() if feed.dirty and feed.writes]
        due = [feed for feed in waiting if feed.sent_until < self._until]
        if due:
            self._send(due, snapshot)
        if len(due) < len(waiting) and self._timer is None:
            self._timer = self.clock.call_at(self._until, self._tick)

    def _tick(self) -> None:
        self._timer = None
        self._publish()

    def _turn(self) -> None:
        """Begin a tick if the last one is over: where that ended, not when its work was done, or the rate would sink
        with the load; after a quiet time now."""
        now = self.clock.now()
        if now >= self._until:
            self._until = (self._until if now < self._until + TICK_S else now) + TICK_S

    def _send(self, due: Sequence[Feed], snapshot: Snapshot | None) -> None:
        begun = self.clock.now()
        now_seen = snapshot or self._frames.snapshot()
        # One write for all frames of a client: with three views it takes a sixth off the whole tap, and the last of
        # them comes no later (docs/performance.md).
        together: Together | None = {} if len(due) > 1 else None
        for feed in due:
            self._refresh(feed, now_seen, together=together)
        _write_all(together or {})
        done = self.clock.now()
        self.meters.publishing.add(done - begun, now=done)

    def _refresh(self, feed: Feed, snapshot: Snapshot, *, tell: bool = True, together: Together | None = None) -> None:
        try:
            frame = self._frames.frame(feed.view, feed.channel.heat, snapshot)
        except Exception:
            # An error in one view must not take the others off the air.
            feed.dirty = False
            _log.exception("no frame for view %s of heat %s", feed.view, feed.channel.heat)
            return
        message = feed.publish(frame, unix_ms=snapshot.unix_ms)
        if tell and message is not None:
            feed.sent_until = self._until
            self._write(feed, message, together)

    def _write(self, feed: Feed, message: bytes, together: Together | None = None) -> None:
        there, view = len(feed.writes), feed.channel.view
        size = feed.write(message, together)
        self.meters.frames[view] += there
        self.meters.bytes[view] += there * size


class Subscriber:
    """One client's watches. While it reads too slowly it gets nothing, and then at once the newest frames."""

    def __init__(self, fan_out: FanOut, transport: Transport) -> None:
        self._fan_out = fan_out
        self._transport = transport
        self._feeds: dict[Key, Feed] = {}
        self._seen: dict[Key, int] = {}
        self._packed: set[Key] = set()
        self._paused = False
        self._stalled: Timer | None = None
        self.watches_several = False
        """Whether it watches more than one view."""
        self.write_all = transport.write_all
        transport.listen(self)

    @property
    def watches(self) -> bool:
        """True while it watches something."""
        return bool(self._feeds)

    def watch(
        self, view: str, heat: str, *, epoch: str | None = None, number: int | None = None, packed: bool = False
    ) -> None:
        """Send the newest frame, or what was missed since `number`, and every change from then on.

        `packed`: it can read snapshots without their repeated keys. Raises NotAllowed beyond the number of views a
        client, or all clients, may watch.
        """
        key = (view, heat)
        if key not in self._feeds and len(self._feeds) >= VIEWS_A_CLIENT:
            raise NotAllowed(f"found {VIEWS_A_CLIENT} views watched, expected no more: unwatch one first")
        feed = self._fan_out.feed(view, heat)
        if key not in self._feeds:
            self._fan_out.count(1)
            self._feeds[key] = feed
            self.watches_several = len(self._feeds) > 1
        self._packed = self._packed | {key} if packed else self._packed - {key}
        if not self._paused:
            self._bring(key, feed.channel.catch_up(epoch, number, packed=packed))
        else:
            self._seen[key] = -1

    def unwatch(self, view: str, heat: str) -> None:
        """Stop sending this view."""
        feed = self._feeds.pop((view, heat), None)
        self._packed -= {(view, heat)}
        if feed is not None:
            feed.writes.pop(self, None)
            self.watches_several = len(self._feeds) > 1
            self._fan_out.count(-1)

    def leave(self) -> None:
        """Stop sending anything."""
        self._keeps_up()
        for view, heat in tuple(self._feeds):
            self.unwatch(view, heat)

    def paused(self) -> None:
        """Note where every view stood; cut the client off if it does not read for long."""
        self._keeps_up()
        self._paused = True
        self._fan_out.meters.slow += 1
        for key, feed in self._feeds.items():
            if feed.writes.pop(self, None) is not None:
                self._seen[key] = feed.channel.number
        self._stalled = self._fan_out.clock.call_at(self._fan_out.clock.now() + STALL_S, self._let_go)

    def resumed(self) -> None:
        """Bring every view to the newest frame. This may pause the client again half-way."""
        self._keeps_up()
        for key, number in tuple(self._seen.items()):
            if self._paused:
                return
            del self._seen[key]
            if key in self._feeds:
                channel = self._fan_out.feed(*key).channel
                self._bring(key, channel.catch_up(channel.epoch, number, packed=key in self._packed))

    def closed(self) -> None:
        """The client is gone."""
        self.leave()

    def _bring(self, key: Key, messages: list[bytes]) -> None:
        feed = self._feeds[key]
        if self._transport.is_open:
            # The client is added before the sending: if that pauses it, it is taken out again with the number it has by
            # then.
            feed.writes[self] = self._transport.write
            for message in messages:
                self._transport.say(message)

    def _let_go(self) -> None:
        self._fan_out.meters.let_go += 1
        self._transport.abort()

    def _keeps_up(self) -> None:
        """It is not slow, or not any more."""
        self._fan_out.meters.slow -= self._paused
        self._paused = False
        if self._stalled is not None:
            self._stalled.cancel()
            self._stalled = None


Together = dict[Subscriber, list[bytes]]
"""The frames of one tick that wait for each other, by the client that they go to."""


def _write_all(together: Together) -> None:
    for subscriber, frames in together.items():
        subscriber.write_all(frames)
