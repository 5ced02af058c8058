"""The public feed: closed segments that never change, and a short list that says what is newest.

A segment is a whole picture. The list names the newest segment and has what changed since, as a JSON Merge Patch
(RFC 7396), so a phone that slept, or has just come, needs two answers: the list and the segment. The name of a segment
is the number of the journal's last line in it and the digest of its bytes. It is closed at a moment of the grid, every
twenty seconds, so servers that follow one journal close the same segments; and no name ever stands for other bytes.

Everything is made when somebody asks, at most once for each moment of the grid, and kept for all who ask after that.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from gzip import compress
from hashlib import sha256
from typing import Any

import orjson

from tallywire.core.fold.floor import floor_name
from tallywire.core.views.public import public_frame, public_standings
from tallywire.shell.books import Books
from tallywire.shell.clock import Clock
from tallywire.shell.public_tape import SEGMENT_MS, Frozen, Tape, moment_until
from tallywire.wire.merge_patch import diff

SETTLE_MS = 150
"""So long a line may take from the writer's clock to the books of an edge and still fall to its moment."""
SIGN_OF_LIFE_MS = 5000
"""So often the list says the time, though nothing has changed."""
SEGMENTS_KEPT = 8
_DIGEST = 16


@dataclass(frozen=True, slots=True)
class Piece:
    """Bytes of the feed, plain and compressed (RFC 1952), under a name that no other bytes have."""

    name: str
    body: bytes
    packed: bytes = field(repr=False)

    @classmethod
    def of(cls, data: object, *, position: int) -> Piece:
        """Write data as JSON."""
        body = orjson.dumps(data)
        return cls(f"{position}-{sha256(body).hexdigest()[:_DIGEST]}", body, compress(body, 6, mtime=0))


@dataclass(frozen=True, slots=True)
class _Closed:
    """A segment with its picture, and the twenty seconds at whose beginning it was closed."""

    window_ms: int
    picture: dict[str, Any]
    piece: Piece


class PublicFeed:
    """What everybody may know of a floor, as late as the latest output: the public is never ahead of the broadcast."""

    def __init__(
        self, tape: Tape, books: Books, *, clock: Clock, stamp: Callable[[], dict[str, Any]], floor: str = ""
    ) -> None:
        self._floor = floor
        self._tape = tape
        self._books = books
        self._clock = clock
        self._stamp = stamp
        self._segments: dict[str, Piece] = {}
        self._closed: _Closed | None = None
        self._list: Piece | None = None
        self._listed: tuple[str, dict[str, Any], int] = ("", {}, 0)
        self._shown_ms = 0
        self._made_ms = 0
        self._held: frozenset[str] = frozenset()
        self._delay_ms: int | None = None

    def expire(self) -> None:
        """Look at holds and delays anew: one of them may have changed."""
        self._made_ms, self._delay_ms = 0, None

    def begin_anew(self) -> None:
        """Forget every picture: a rehearsal is at another moment now."""
        self._segments.clear()
        self._closed = self._list = None
        self.expire()

    def newest(self) -> Piece | None:
        """Give the list; None while there is nothing that the public may see yet."""
        delay_ms = self._look_at_show()
        # The time of an edge that is cut off stands still, and so do its pictures.
        late_ms = SETTLE_MS + delay_ms + self._books.behind_ms
        moment_ms = moment_until(self._clock.unix_ms() - late_ms)
        if self._made_ms != moment_ms or self._list is None:
            self._made_ms = moment_ms
            self._advance(moment_ms)
        return self._list

    def segment(self, name: str) -> Piece | None:
        """Give a closed segment that a newest list has named, here or at another server; None for any other name."""
        if name not in self._segments:
            # Another server's list may have named it before anybody asked for the list here.
            self.newest()
        return self._segments.get(name)

    def _look_at_show(self) -> int:
        """Give the delay of the latest output, in ms.

        A medical hold counts at once, however late the pictures are: its segments are given to nobody any more.
        """
        if self._delay_ms is not None:
            return self._delay_ms
        now = self._books.snapshot()
        self._delay_ms = max((output.delay_ms for output in now.outputs.values()), default=0)
        if now.held != self._held:
            self._held = now.held
            self._segments.clear()
            self._closed = None
        return self._delay_ms

    def _advance(self, unix_ms: int) -> None:
        # Never back: after a longer delay is set the public waits until the broadcast is there.
        self._shown_ms = max(self._shown_ms, unix_ms)
        at = self._tape.at(self._shown_ms)
        if at is None:
            return
        picture = self._picture(at)
        closed = self._close(at, picture)
        # The overall standing belongs to the segment: it stays as it was at its beginning.
        changes = diff(closed.picture, picture | {"standings": closed.picture["standings"]})
        name, listed, said_ms = self._listed
        if (name, listed) == (closed.piece.name, changes) and self._shown_ms - said_ms < SIGN_OF_LIFE_MS:
            return
        self._listed = (closed.piece.name, changes, self._shown_ms)
        data = {"segment": closed.piece.name, "unix_ms": self._shown_ms, "changes": changes}
        self._list = Piece.of(data, position=at.position)

    def _close(self, at: Frozen, picture: dict[str, Any]) -> _Closed:
        """Give the segment on which a picture rests: that of its twenty seconds, or itself where that tells little."""
        window_ms = moment_until(self._shown_ms, apart_ms=SEGMENT_MS)
        closed = self._closed
        if closed is None or closed.window_ms != window_ms:
            begun = self._tape.at(window_ms)
            closed = self._keep(window_ms, begun or at, self._picture(begun) if begun else picture)
        if closed.picture["heat"]["id"] != picture["heat"]["id"]:
            closed = self._keep(window_ms, at, picture)
        return closed

    def _keep(self, window_ms: int, at: Frozen, picture: dict[str, Any]) -> _Closed:
        heat = at.snapshot.heat(floor_name(self._floor))
        picture = picture | {"standings": public_standings(at.snapshot, heat, held=self._held | at.snapshot.held)}
        piece = Piece.of(picture, position=at.position)
        self._segments[piece.name] = piece
        while len(self._segments) > SEGMENTS_KEPT:
            del self._segments[next(iter(self._segments))]
        self._closed = _Closed(window_ms, picture, piece)
        return self._closed

    def _picture(self, at: Frozen) -> dict[str, Any]:
        held: Collection[str] = self._held | at.snapshot.held
        picture = public_frame(at.snapshot, at.snapshot.heat(floor_name(self._floor)), held=held)
        return self._books.pace.told(picture) | self._stamp()
