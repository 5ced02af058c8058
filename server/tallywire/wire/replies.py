"""What the server says, as JSON bytes ready to be put into frames. See docs/wire.md."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import orjson

from tallywire.core.errors import SequenceGap, TallywireError
from tallywire.wire.reasons import Reason, with_reason

Data = dict[str, Any]


def welcome(*, role: str, mode: str, speed: float, known: Mapping[str, Any]) -> bytes:
    """Answer a hello. `known` is what a sender learns: its name, its watermark, and the facts it may send."""
    return orjson.dumps({"type": "welcome", "role": role, "mode": mode, "speed": speed, **known})


def acknowledged(*, sender: str, watermark: int, refused: Sequence[Data], tally: Data | None) -> bytes:
    """Say that the facts are on disk, which of them were refused, and what the lane's count is now."""
    counted = {} if tally is None else {"tally": tally}
    said = [with_reason(each) for each in refused]
    message = {"type": "acknowledged", "sender": sender, "watermark": watermark, "refused": said, **counted}
    return orjson.dumps(message)


def gap(error: SequenceGap) -> bytes:
    """Name the sequence to send from."""
    return orjson.dumps({"type": "gap", "expected": error.expected, "found": error.found})


def pong(*, t1: float, t2: int, t3: int) -> bytes:
    """Give the server's clock at receiving and at answering (RFC 5905 §8)."""
    return orjson.dumps({"type": "pong", "t1": t1, "t2": t2, "t3": t3})


def failed(error: TallywireError) -> bytes:
    """Say what was wrong with a message."""
    return orjson.dumps({"type": "error", **with_reason(error.as_data())})


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """Which frame a message is about, and the wall time at which it was made: an output shows it after its delay."""

    view: str
    heat: str
    number: int
    unix_ms: int

    def as_data(self) -> Data:
        """Give the stamp as fields of a message."""
        return {"view": self.view, "heat": self.heat, "number": self.number, "unix_ms": self.unix_ms}


def snapshot(
    stamp: Stamp, *, epoch: str, frame: Mapping[str, Any], columns: Mapping[str, Sequence[str]] | None = None
) -> bytes:
    """Give a whole frame; `columns` are the names of what stands in the rows of one that is packed."""
    packed = {} if columns is None else {"columns": columns}
    return orjson.dumps({"type": "snapshot", **stamp.as_data(), "epoch": epoch, **packed, "frame": frame})


def patch(stamp: Stamp, *, change: Mapping[str, Any]) -> bytes:
    """Give what turns the frame before this number into the frame of this number."""
    return orjson.dumps({"type": "patch", **stamp.as_data(), "patch": change})


def parting(code: str, message: str) -> bytes:
    """Say why the connection is closed next."""
    return orjson.dumps({"type": "error", **with_reason({"code": code, "message": message})})


def storage(*, state: str, key: str, message: str) -> bytes:
    """Tell a sender whether the server's disk has room: `ok`, `low`, or `held` while nothing is acknowledged."""
    return orjson.dumps({"type": "storage", "state": state, "message": message, "reason": Reason(key)})
