"""A plain websocket client that sends facts, for starting heats and for checking what the journal keeps."""

from __future__ import annotations

import json
import time
from contextlib import ExitStack
from typing import Any

from websockets.sync.client import ClientConnection, connect


class Sender:
    """One sender on the wire."""

    def __init__(self, port: int, name: str, key: str, *, lane: int | None = None, role: str = "table") -> None:
        self.name = name
        self._open = ExitStack()
        connection = connect(f"ws://127.0.0.1:{port}/wire", compression=None)
        self._socket: ClientConnection = self._open.enter_context(connection)
        who = {"role": role} if lane is None else {"role": "lane", "lane": lane}
        self._socket.send(json.dumps({"type": "hello", "sender": name, "key": key, **who}))
        self.watermark: int = self._next("welcome")["watermark"]

    def say(self, kind: str, **fields: Any) -> None:
        """Send one fact and wait until it is acknowledged."""
        sequence = self.watermark + 1
        fact = {"fact": kind, "id": f"{self.name}.{sequence}", "heat": "h1", "sender": self.name, "sequence": sequence}
        self._socket.send(json.dumps({"type": "facts", "facts": [{"at_ms": 0, **fact, **fields}]}))
        answer = self._next("acknowledged")
        assert not answer["refused"], answer
        self.watermark = answer["watermark"]

    def start_heat(self) -> None:
        """Start the heat now."""
        self.say("heat_started", unix_ms=time.time_ns() // 1_000_000)

    def close(self) -> None:
        """Close the connection."""
        self._open.close()

    def _next(self, kind: str) -> dict[str, Any]:
        """Give the next message, past what a table is told of other people's clocks."""
        message: dict[str, Any] = json.loads(self._socket.recv(timeout=10))
        while message.get("code") == "ahead_of_clock":
            message = json.loads(self._socket.recv(timeout=10))
        assert message["type"] == kind, message
        return message
