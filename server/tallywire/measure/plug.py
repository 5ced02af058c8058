"""Websockets by hand, as light as they can be: they shake hands, say what they are told to, and count what they hear.

A crowd of them is one loop over one poll object, because what loads a server must cost less than the server.
"""

from __future__ import annotations

import json
import resource
import select
import socket
import time
from collections.abc import Callable, Sequence
from typing import Any

from tallywire.core.errors import TallywireError

_ANSWER_S = 10.0
_AT_ONCE = 50
_PIECE = 1 << 16
_TEXT, _CLOSE, _PING, _PONG = 0x81, 0x88, 0x89, 0x8A
"""First bytes of whole frames (RFC 6455 §5.2)."""
_HANDSHAKE = (
    "Upgrade: websocket\r\nConnection: Upgrade\r\n"
    "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n"
)


class Plug:
    """One websocket to a port of this machine. The handshake is asked for at once, and read by `shake`."""

    def __init__(self, port: int, path: str, *, buffer: int | None = None) -> None:
        self.socket = socket.socket()
        if buffer is not None:
            self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, buffer)
        self.socket.connect(("127.0.0.1", port))
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self.socket.settimeout(_ANSWER_S)
        self.socket.sendall(f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n{_HANDSHAKE}".encode())
        self._rest = b""

    def shake(self) -> None:
        """Wait for the answer to the handshake. Raises TallywireError when it is a refusal."""
        while b"\r\n\r\n" not in self._rest:
            piece = self.socket.recv(_PIECE)
            if not piece:
                break
            self._rest += piece
        head, _, self._rest = self._rest.partition(b"\r\n\r\n")
        if b" 101 " not in head.partition(b"\r\n")[0]:
            raise TallywireError(f"found the answer {head[:80]!r} to a handshake, expected 101")

    def say(self, text: str) -> None:
        """Send a text, under a mask of zeros."""
        self._send(_TEXT, text.encode())

    def hear(self) -> int | None:
        """Read what is there, answer pings, and give how many texts were complete; None at the end."""
        data = self.socket.recv(_PIECE)
        if not data:
            return None
        if self._rest:
            data = self._rest + data
        texts = at = 0
        while (end := _end_of(data, at)) <= len(data):
            if data[at] == _TEXT:
                texts += 1
            elif data[at] == _PING:
                self._send(_PONG, data[at + 2 : end])
            elif data[at] == _CLOSE:
                return None
            at = end
        self._rest = data[at:]
        return texts

    def _send(self, kind: int, payload: bytes) -> None:
        size = len(payload)
        head = bytes((kind, 0x80 | size)) if size < 126 else bytes((kind, 0xFE)) + size.to_bytes(2)
        self.socket.sendall(head + bytes(4) + payload)


def _end_of(data: bytes, at: int) -> int:
    """Give where a frame of a server ends, past the end of the data when it is not all there (RFC 6455 §5.2)."""
    left = len(data) - at
    if left < 2:
        return at + 2 if left else len(data) + 1
    size = data[at + 1]
    if size < 126:
        return at + 2 + size
    wide = 2 if size == 126 else 8
    if left < 2 + wide:
        return at + 2 + wide
    return at + 2 + wide + int.from_bytes(data[at + 2 : at + 2 + wide])


class Crowd:
    """Plugs that hear, all in one place: how many texts came in all, and how many plugs were let go."""

    def __init__(self, heard: Callable[[Plug, int], None] | None = None) -> None:
        self.texts = 0
        self.lost = 0
        self._heard = heard
        self._plugs: dict[int, Plug] = {}
        self._poll = select.epoll()

    def __len__(self) -> int:
        return len(self._plugs)

    def join(self, port: int, path: str, asks: Sequence[str], count: int) -> None:
        """Let so many more connect and say these texts. Waits until nothing more comes of that."""
        raise_file_limit(len(self) + count)
        for first in range(0, count, _AT_ONCE):
            plugs = [Plug(port, path) for _ in range(min(_AT_ONCE, count - first))]
            for plug in plugs:
                plug.shake()
                for text in asks:
                    plug.say(text)
                self.take_in(plug)
            self.settle()

    def take_in(self, plug: Plug) -> None:
        """Hear one more plug from now on."""
        self._plugs[plug.socket.fileno()] = plug
        self._poll.register(plug.socket, select.EPOLLIN)

    def settle(self, quiet_s: float = 0.1) -> int:
        """Hear until nothing has come for a while; gives how many texts that were."""
        before = self.texts
        while self._turn(quiet_s):
            pass
        return self.texts - before

    def hear_until(self, when: float) -> None:
        """Hear what comes until a moment of the monotonic clock."""
        while (left_s := when - time.perf_counter()) > 0:
            self._turn(left_s)

    def hear(self, texts: int, *, within_s: float = _ANSWER_S) -> None:
        """Hear until so many texts have come in all. Raises TallywireError when they do not come in time."""
        until = time.perf_counter() + within_s
        while self.texts < texts:
            if not self._turn(until - time.perf_counter()):
                raise TallywireError(
                    f"found {self.texts} of {texts} frames after {within_s:g} s, {self.lost} of "
                    f"{len(self) + self.lost} connections lost"
                )

    def close(self) -> None:
        """Cut every connection."""
        self._poll.close()
        for plug in self._plugs.values():
            plug.socket.close()

    def _turn(self, wait_s: float) -> bool:
        """Hear all that there is to hear now; False when there is nothing for so long."""
        ready = self._poll.poll(max(0.0, wait_s))
        for number, _ in ready:
            texts = self._plugs[number].hear()
            if texts is None:
                self._lose(number)
            else:
                self.texts += texts
                if self._heard is not None:
                    self._heard(self._plugs[number], texts)
        return bool(ready)

    def _lose(self, number: int) -> None:
        self.lost += 1
        self._poll.unregister(number)
        self._plugs.pop(number).socket.close()


def message(**fields: Any) -> str:
    """Give a message of the wire."""
    return json.dumps(fields, separators=(",", ":"))


def raise_file_limit(connections: int) -> None:
    """Allow this process, and those that it starts, so many connections and some files."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = connections * 2 + 500
    if soft < wanted and (hard == resource.RLIM_INFINITY or hard > soft):
        most = wanted if hard == resource.RLIM_INFINITY else min(hard, wanted)
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, hard))
