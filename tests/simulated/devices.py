"""Those who use the server in a world: senders that keep what is not acknowledged, and pages that watch."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random
from typing import Any

import orjson

from simulated.network import Connection
from simulated.time import WorldClock
from tallywire.wire.merge_patch import apply
from wire.talk import hello, text

Item = dict[str, Any]
RESEND_S = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What a device finds around it: time, dice, and a way to connect (None while the server is down)."""

    clock: WorldClock
    dice: Random
    connect: Callable[[Any, bool], Connection | None]


class Sender:
    """A pad or the table, as docs/wire.md asks: it numbers its facts, and sends again what is not acknowledged."""

    def __init__(self, name: str, around: Around) -> None:
        self.name = name
        self.items: list[Item] = []
        self.watermark = 0
        self._around = around
        self._connection: Connection | None = None
        self._is_greeted = False
        self._is_waiting = False
        self.connect()

    def connect(self) -> None:
        """Open a connection. An older one is left as it is: the server may hear of its end much later."""
        self._is_greeted = False
        self._connection = self._around.connect(self, self._around.dice.random() < 0.5)
        if self._connection is not None:
            self._connection.send(hello(self.name))
        self._look_again()

    def add(self, item: Item) -> None:
        """Note a fact and send it."""
        self.items.append(item)
        if self._around.dice.random() < 0.8:
            self._send(self.items[-1:])
        self._look_again()

    def _send(self, items: Sequence[Item]) -> None:
        if self._connection is not None and self._is_greeted and items:
            self._connection.send(text(type="facts", facts=items))

    def _send_rest(self) -> None:
        self._send(self.items[self.watermark :][:20])

    def _look_again(self) -> None:
        if not self._is_waiting:
            self._is_waiting = True
            self._around.clock.after(RESEND_S, self._look)

    def _look(self) -> None:
        self._is_waiting = False
        if self._connection is None or not self._is_greeted:
            self.connect()
        elif self.watermark < len(self.items):
            self._send_rest()
            self._look_again()

    def hear(self, payload: bytes, connection: Connection) -> None:
        """Take an answer."""
        if connection is not self._connection:
            return
        message = orjson.loads(payload)
        if message["type"] in ("welcome", "acknowledged"):
            self._is_greeted = True
            self.watermark = max(self.watermark, message["watermark"])
        if message["type"] in ("welcome", "gap"):
            self._send_rest()
        if message["type"] == "error" and not self._is_greeted:
            self.connect()

    def cut_off(self, connection: Connection) -> None:
        """Connect again."""
        if connection is self._connection:
            self.connect()


class Page:
    """A page that watches some views and puts their frames together."""

    def __init__(self, views: Sequence[str], around: Around) -> None:
        self.views = views
        self.frames: dict[str, Any] = {}
        self.made_unix_ms: dict[str, int] = {}
        self._known: dict[str, tuple[str, int]] = {}
        self._around = around
        self._connection: Connection | None = None
        self.faults: list[str] = []
        self.connect()

    def connect(self) -> None:
        """Open a connection, and ask for what was missed."""
        self._connection = self._around.connect(self, True)
        if self._connection is None:
            self._around.clock.after(RESEND_S, self.connect)
            return
        if "table" in self.views:
            self._connection.send(hello("table-page"))
        for view in self.views:
            epoch, number = self._known.get(view, (None, None))
            self._connection.send(text(type="watch", view=view, epoch=epoch, number=number))

    def hear(self, payload: bytes, connection: Connection) -> None:
        """Take a frame."""
        message = orjson.loads(payload)
        if connection is not self._connection or message["type"] not in ("snapshot", "patch"):
            return
        view, number = message["view"], message["number"]
        epoch, before = self._known.get(view, ("", 0))
        if message["type"] == "snapshot":
            self.frames[view], epoch = message["frame"], message["epoch"]
        elif number != before + 1:
            self.faults.append(f"frame {number} of {view} came after {before}")
        else:
            self.frames[view] = apply(self.frames[view], message["patch"])
        self._known[view], self.made_unix_ms[view] = (epoch, number), message["unix_ms"]

    def cut_off(self, connection: Connection) -> None:
        """Connect again."""
        if connection is self._connection:
            self.connect()
