"""Messages as a broken or hostile client sends them, from dice."""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Any

import orjson

from wire.talk import hello

Data = Any
_FACT = {
    "fact": "rep_counted",
    "id": "lane-3-x.1",
    "heat": "heat",
    "at_ms": 5,
    "sender": "lane-3-x",
    "sequence": 9,
    "lane": 3,
}
_SOUND: tuple[Data, ...] = (
    orjson.loads(hello("lane-3-x")),
    {"type": "hello", "role": "viewer"},
    {"type": "watch", "view": "heat", "heat": "floor", "epoch": "e", "number": 3},
    {"type": "unwatch", "view": "table"},
    {"type": "ping", "t1": 12.5},
    {"type": "facts", "facts": [_FACT, _FACT | {"sequence": 10, "fact": "no_rep_called", "reason": "depth"}]},
    {"type": "facts", "facts": [_FACT | {"fact": "count_corrected", "scored_reps": 4, "reason": "sheet"}]},
    {
        "type": "facts",
        "facts": [_FACT | {"fact": "view_taken", "output": "world", "view": "board", "params": {"a": "b"}}],
    },
)
_JUNK: tuple[Data, ...] = (
    None, True, False, 0, -1, 1.5, 2**53, 2**63, -(2**63), 10**30, 1e308, "", "x", "x" * 5000, "\x00", "é\u202e",
   "../..",
    "' OR 1=1 --", "<script>", "=1+1", [], {}, [[]], {"": {}}, [None] * 300, {"a": 1, "type": "hello"}, "floor",
)  # fmt: skip
_TEXTS = (
    b"", b" ", b"{", b"[", b"nul", b"NaN", b"[1,]", b'{"type"}', b'"\\ud800"', b"\xff\xfe", b"\x00" * 9, b"1e400",
    b"[" * 3000, b'{"type":"facts","facts":' + b"[" * 900 + b"]" * 900 + b"}", b'{"type":"ping","t1":1e999}',
    b'{"type":"ping","type":"hello"}', b"x" * 70_000, b'{"type":"ping","t1":' + b"9" * 400 + b"}",
)  # fmt: skip


def malformed(dice: Random) -> bytes:
    """Give one message with something wrong in it; now and then nothing is."""
    return dice.choice(_WAYS)(dice)


def _junk(dice: Random) -> Data:
    data = dice.choice(_JUNK)
    return (10**15) if data == 10**30 else data


def _changed(data: Data, dice: Random) -> Data:
    """Put junk, or nothing, somewhere into a value."""
    if dice.random() < 0.2 or not isinstance(data, dict | list) or not data:
        return _junk(dice)
    if isinstance(data, list):
        at = dice.randrange(len(data))
        return [*data[:at], _changed(data[at], dice), *data[at + 1 :]]
    name = dice.choice(sorted(data))
    how = dice.random()
    if how < 0.2:
        return {key: value for key, value in data.items() if key != name}
    if how < 0.3:
        return {**data, dice.choice(("extra", "", "\x00", "type", "fact", "key")): _junk(dice)}
    return {**data, name: _changed(data[name], dice)}


def _of_wrong_shape(dice: Random) -> bytes:
    data = dice.choice(_SOUND)
    for _ in range(dice.randrange(1, 4)):
        data = _changed(data, dice)
    try:
        return orjson.dumps(data)
    except orjson.JSONEncodeError:
        return b"{}"


def _of_wrong_bytes(dice: Random) -> bytes:
    text = bytearray(orjson.dumps(dice.choice(_SOUND)))
    for _ in range(dice.randrange(1, 5)):
        at = dice.randrange(len(text))
        text[at : at + dice.randrange(3)] = dice.randbytes(dice.randrange(3))
    return bytes(text[: dice.randrange(1, len(text) + 1)] if dice.random() < 0.3 else text)


def _much(dice: Random) -> bytes:
    count = dice.choice((256, 257, 400))
    return orjson.dumps({"type": "facts", "facts": [_junk(dice) for _ in range(count)]})


_WAYS: tuple[Callable[[Random], bytes], ...] = (
    *(_of_wrong_shape,) * 10,
    *(_of_wrong_bytes,) * 6,
    lambda dice: dice.choice(_TEXTS),
    lambda dice: dice.randbytes(dice.randrange(1, 80)),
    _much,
)
