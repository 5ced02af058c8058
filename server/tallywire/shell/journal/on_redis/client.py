"""One connection to a Redis server: commands go out together, and what went wrong is said in the journal's errors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from redis import ConnectionPool
from redis.backoff import NoBackoff
from redis.exceptions import (
    AuthenticationError,
    AuthorizationError,
    ConnectionError,
    NoScriptError,
    OutOfMemoryError,
    ReadOnlyError,
    RedisError,
    ResponseError,
    TimeoutError,
)
from redis.retry import Retry

from tallywire.core.errors import JournalAway, JournalFailed, TallywireError

TIMEOUT_S = 2.0
"""So long an answer may take; after that the connection is given up, and a new one shows what was written."""
Command = tuple[str | bytes | int, ...]
_PASSING = (ConnectionError, TimeoutError, OSError, NoScriptError, OutOfMemoryError, ReadOnlyError)
_PASSING_CODES = ("MISCONF", "NOREPLICAS", "MASTERDOWN", "LOADING", "BUSY", "UNKILLABLE", "TRYAGAIN")
"""Errors of a server that cannot take facts just now, by the first word of its answer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the journal is: a Redis URL (redis, rediss or unix), whose database holds one competition.

    `replicas` is how many replicas must have a line before it is acknowledged, `lease_ms` how long the writer may be
    silent before another may take over, `timeout_s` how long an answer may take.
    """

    url: str = field(repr=False)
    replicas: int = 0
    lease_ms: int = 3000
    timeout_s: float = TIMEOUT_S

    def __str__(self) -> str:
        """Name the server without its password."""
        return self.url.rpartition("@")[2].rpartition("://")[2] or self.url

    def checked(self) -> Place:
        """Give the place itself. Raises TallywireError for an address that is none."""
        try:
            ConnectionPool.from_url(self.url)
        except ValueError as exc:
            raise TallywireError(
                f'found "{self}" as the address of Redis, expected one such as redis://127.0.0.1:6379/0'
            ) from exc
        return self


class RedisClient:
    """One connection, used by one thread. Once it has failed it is never used again: an answer may still be on its way.

    Each call raises JournalAway where the server may be back later, JournalFailed otherwise.
    """

    def __init__(self, place: Place) -> None:
        self.place = place
        self._failure: JournalFailed | None = None
        # Nothing is sent a second time without a look at what is there: no retries.
        pool = ConnectionPool.from_url(
            place.url,
            socket_timeout=place.timeout_s,
            socket_connect_timeout=place.timeout_s,
            retry=Retry(NoBackoff(), 0),
            protocol=2,
            decode_responses=False,
        )
        self._connection: Any = pool.make_connection()

    def ask(self, *command: str | bytes | int) -> Any:
        """Send one command and give its answer."""
        return self.ask_all([command])[0]

    def ask_all(self, commands: Sequence[Command]) -> list[Any]:
        """Send several commands in one round trip and give their answers."""
        if self._failure is not None:
            raise type(self._failure)(str(self._failure))
        try:
            self._connection.send_packed_command(self._connection.pack_commands(commands), check_health=False)
            answers = [self._answer() for _ in commands]
        except (RedisError, OSError) as exc:
            self._failure = self._as_failure(exc)
            self.close()
            raise self._failure from exc
        for answer in answers:
            if isinstance(answer, RedisError):
                raise self._as_failure(answer) from answer
        return answers

    def _answer(self) -> Any:
        try:
            return self._connection.read_response()
        except ResponseError as exc:
            # The answers to the other commands still have to be read.
            return exc

    def load(self, script: bytes) -> bytes:
        """Hand a script to the server and give the name by which EVALSHA runs it."""
        return bytes(self.ask("SCRIPT", "LOAD", script))

    def close(self) -> None:
        """Close the connection. Closing twice is harmless."""
        self._connection.disconnect()

    def _as_failure(self, exc: Exception) -> JournalFailed:
        refused = isinstance(exc, (AuthenticationError, AuthorizationError))
        passing = isinstance(exc, _PASSING) or str(exc).startswith(_PASSING_CODES)
        if passing and not refused:
            return JournalAway(f"the journal's server {self.place} does not take facts ({exc}): start it, or its link")
        return JournalFailed(f"the journal's server {self.place} refused a command ({exc}): check it and its settings")
