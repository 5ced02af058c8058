"""The two ways out for a push: an HTTP request, and a websocket that stays open."""

from __future__ import annotations

import asyncio
import socket
import ssl
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from http.client import HTTPConnection, HTTPException, HTTPSConnection
from typing import Protocol
from urllib.parse import urlsplit

from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import WebSocketException

from tallywire.wire.push import Push, handshake_fields, post_fields

TIMEOUT_S = 5.0
"""How long a receiver may take for each step."""
WAIT_MOST_S = 60.0
"""The longest wait that a receiver may ask for by Retry-After."""
_ANSWER_MOST = 64 * 1024
_GONE = 410


class NotTaken(Exception):
    """A push was not taken: `wait_s` is how long the receiver asks to be left alone, `final` that it wants no more."""

    def __init__(self, reason: str, *, wait_s: float = 0, final: bool = False) -> None:
        super().__init__(reason)
        self.wait_s = wait_s
        self.final = final


class Out(Protocol):
    """A way to one receiver."""

    async def send(self, body: bytes) -> None:
        """Deliver. Raises NotTaken."""
        ...

    def close(self) -> None:
        """Let the connection go."""
        ...


class HttpOut:
    """Signed POSTs, one after the other, on a connection that stays open. Redirects are not followed."""

    def __init__(self, push: Push, *, key: bytes, now_s: Callable[[], float]) -> None:
        self._push = push
        self._key = key
        self._now_s = now_s
        self._number = 0
        # A thread of its own: a receiver that does not answer keeps nobody else waiting.
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="push")
        self._connection: HTTPConnection | None = None
        self._is_closed = False

    async def send(self, body: bytes) -> None:
        """Deliver by a POST whose answer is 2xx."""
        self._number += 1
        await asyncio.get_running_loop().run_in_executor(self._thread, self._post, body)

    def close(self) -> None:
        """Let the connection go, also from under a request that waits for its answer: it is not made again."""
        self._is_closed = True
        self._thread.shutdown(wait=False, cancel_futures=True)
        waiting = None if self._connection is None else self._connection.sock
        if waiting is not None:
            with suppress(OSError):
                waiting.shutdown(socket.SHUT_RDWR)
        self._drop()

    def _post(self, body: bytes) -> None:
        used = self._connection is not None
        try:
            self._answered(body)
        except (OSError, HTTPException, ValueError) as exc:
            self._drop()
            if not used or self._is_closed or isinstance(exc, TimeoutError):
                raise NotTaken(_said(exc)) from exc
            # A connection that was open for long may have been closed meanwhile: that is no fault of the receiver.
            self._try_again(body)
        finally:
            if self._is_closed:
                self._drop()

    def _try_again(self, body: bytes) -> None:
        try:
            self._answered(body)
        except (OSError, HTTPException, ValueError) as exc:
            self._drop()
            raise NotTaken(_said(exc)) from exc

    def _answered(self, body: bytes) -> None:
        if self._connection is None:
            self._connection = _connection(self._push)
        parts = urlsplit(self._push.url)
        target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
        created = int(self._now_s())
        fields = post_fields(self._push, body, number=self._number, created=created, key=self._key)
        self._connection.request("POST", target, body, fields)
        answer = self._connection.getresponse()
        rest = answer.read(_ANSWER_MOST + 1)
        if answer.will_close or len(rest) > _ANSWER_MOST:
            self._drop()
        if not 200 <= answer.status < 300:
            wait_s = _wait_s(answer.getheader("Retry-After", ""))
            reason = f"found answer {answer.status}, expected 2xx"
            raise NotTaken(reason, wait_s=wait_s, final=answer.status == _GONE)

    def _drop(self) -> None:
        if self._connection is not None:
            self._connection.close()
            self._connection = None


class SocketOut:
    """A websocket whose handshake is signed; every push is a text message. What the receiver says is not looked at."""

    def __init__(self, push: Push, *, key: bytes, now_s: Callable[[], float]) -> None:
        self._push = push
        self._key = key
        self._now_s = now_s
        self._open: ClientConnection | None = None
        self._deaf: asyncio.Task[None] | None = None

    async def send(self, body: bytes) -> None:
        """Deliver as a message, on a new connection if there is none."""
        try:
            async with asyncio.timeout(TIMEOUT_S):
                if self._open is None:
                    self._open = await self._opened()
                    self._deaf = asyncio.create_task(_pass_over(self._open))
                await self._open.send(body.decode())
        except (OSError, TimeoutError, WebSocketException) as exc:
            self.close()
            raise NotTaken(_said(exc)) from exc

    def close(self) -> None:
        """Let the connection go."""
        if self._deaf is not None:
            self._deaf.cancel()
        if self._open is not None:
            self._open.transport.abort()
        self._open = self._deaf = None

    async def _opened(self) -> ClientConnection:
        fields = handshake_fields(self._push, created=int(self._now_s()), key=self._key)
        return await connect(
            self._push.url, additional_headers=fields, open_timeout=None, compression=None, proxy=None, max_size=4096
        )


async def _pass_over(opened: ClientConnection) -> None:
    with suppress(WebSocketException):
        async for _message in opened:
            pass


def _connection(push: Push) -> HTTPConnection:
    parts = urlsplit(push.url)
    host = parts.hostname or ""
    if parts.scheme == "https":
        return HTTPSConnection(host, parts.port, timeout=TIMEOUT_S, context=ssl.create_default_context())
    return HTTPConnection(host, parts.port, timeout=TIMEOUT_S)


def _wait_s(said: str) -> float:
    """RFC 9110 §10.2.3, in seconds; a date is passed over."""
    return min(float(said), WAIT_MOST_S) if said.isascii() and said.isdigit() else 0.0


def _said(exc: BaseException) -> str:
    return str(exc) or type(exc).__name__
