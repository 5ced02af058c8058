"""The network of a world: what is sent may be late, lost, doubled or overtaken, and a connection may break."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from random import Random
from typing import TYPE_CHECKING, Protocol

from simulated.time import WorldClock
from tallywire.shell.transport import TransportListener
from tallywire.web.client import Client
from tallywire.wire.text_frame import frame_payload

if TYPE_CHECKING:
    from tallywire.shell.live import LiveCompetition

UNREAD_MOST = 6
"""So many messages may be under way to a device before its transport is full."""


class Device(Protocol):
    """A pad, the table or a page."""

    def hear(self, payload: bytes, connection: Connection) -> None:
        """Take a message of the server."""
        ...

    def cut_off(self, connection: Connection) -> None:
        """Learn that a connection is gone."""
        ...


class Network:
    """How messages fare. `is_calm` ends the faults."""

    def __init__(self, clock: WorldClock, dice: Random) -> None:
        self.clock = clock
        self.dice = dice
        self.is_calm = False

    def copies(self) -> int:
        """Give how often a message arrives on a line that keeps no order."""
        return 1 if self.is_calm else self.dice.choice((0, 1, 1, 1, 1, 1, 1, 1, 1, 2))

    def delay_s(self) -> float:
        """Give how long a message takes."""
        return 0.01 if self.is_calm else self.dice.choice((0.0, 0.002, 0.01, 0.05, 0.4))


class Wire:
    """One direction of a connection. One that `keeps_order` is what a websocket promises; the other kind is harsher."""

    def __init__(self, network: Network, *, keeps_order: bool) -> None:
        self._network = network
        self._keeps_order = keeps_order
        self._last = 0.0

    def carry(self, arrive: Callable[[], None], lost: Callable[[], None] = lambda: None) -> None:
        """Bring a message to the other end, or not."""
        clock = self._network.clock
        if self._keeps_order:
            self._last = max(self._last, clock.now() + self._network.delay_s())
            clock.call_at(self._last, arrive)
            return
        copies = self._network.copies()
        for _ in range(copies):
            clock.after(self._network.delay_s(), arrive)
        if not copies:
            lost()


class Connection:
    """A connection as the server's Transport (shell/transport.py), and as what the device holds."""

    def __init__(self, live: LiveCompetition, device: Device, network: Network, *, keeps_order: bool) -> None:
        self.is_open = True
        self.shown: dict[tuple[str, str], tuple[int, object]] = {}
        self.heard_by: Callable[[Connection, bytes], None] = lambda _connection, _payload: None
        self._device = device
        self._network = network
        self._up = Wire(network, keeps_order=keeps_order)
        self._down = Wire(network, keeps_order=keeps_order)
        self._under_way = 0
        self._is_full = False
        self._is_torn = False
        self._listener: TransportListener | None = None
        self.client = Client(live, self)

    def send(self, text: str) -> None:
        """Send from the device."""
        self._up.carry(lambda: self._arrive(text))

    def _arrive(self, text: str) -> None:
        if self.is_open:
            self.client.hear(text)
            if self.client.parting is not None:
                self.close()

    def write(self, frame: bytes) -> None:
        """Send a frame to the device."""
        self.say(frame_payload(frame))

    def write_all(self, frames: Sequence[bytes]) -> None:
        """Send several frames to the device."""
        for frame in frames:
            self.write(frame)

    def say(self, payload: bytes) -> None:
        """Send text to the device, and show it to everyone who watches the world."""
        if not self.is_open:
            return
        self.heard_by(self, payload)
        self._under_way += 1
        if self._under_way > UNREAD_MOST and not self._is_full and self._listener is not None:
            self._is_full = True
            self._listener.paused()
        self._down.carry(lambda: self._reach(payload), self._taken)

    def _reach(self, payload: bytes) -> None:
        self._taken()
        if self.is_open or not self._is_torn:
            self._device.hear(payload, self)

    def _taken(self) -> None:
        self._under_way -= 1
        if self._is_full and self._under_way <= 0 and self.is_open and self._listener is not None:
            self._is_full = False
            self._listener.resumed()

    def close(self) -> None:
        """End it on the server's side; the device learns in time."""
        if not self.is_open:
            return
        self.is_open = False
        # What was under way may be lost with it.
        self._is_torn = self._network.dice.random() < 0.5
        if self._listener is not None:
            self._listener.closed()
        self.client.leave()
        self._down.carry(lambda: self._device.cut_off(self), lambda: self._device.cut_off(self))

    def listen(self, listener: TransportListener) -> None:
        """Tell this listener."""
        self._listener = listener

    @property
    def is_ready(self) -> bool:
        """There is always room."""
        return True

    async def ready(self) -> None:
        """There is always room: the world waits for nobody."""

    async def flush(self) -> None:
        """Nothing waits."""

    def abort(self) -> None:
        """Cut it."""
        self.close()
