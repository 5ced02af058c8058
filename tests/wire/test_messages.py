"""What a client may say, and what it is told when it says something else."""

from __future__ import annotations

from typing import Any

import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tallywire.core.errors import BadMessage
from tallywire.wire.allowance import Allowance
from tallywire.wire.messages import MESSAGE_LIMIT, Facts, Hello, Ping, Watch, read_message


def text(**fields: Any) -> str:
    """A message as JSON."""
    return orjson.dumps(fields).decode()


def test_messages_are_read() -> None:
    """Each kind of message comes out as its model, defaults filled in."""
    assert read_message(text(type="watch", view="heat")) == Watch(type="watch", view="heat", heat="floor")
    hello = read_message(text(type="hello", role="lane", lane=4, key="k", sender="lane-4-abc"))
    assert isinstance(hello, Hello)
    assert (hello.lane, hello.sender) == (4, "lane-4-abc")
    assert isinstance(read_message(text(type="facts", facts=[{"any": "thing"}])), Facts)
    assert read_message(text(type="ping", t1=12.5)) == Ping(type="ping", t1=12.5)


@pytest.mark.parametrize(
    ("message", "told"),
    [
        ("no json", "found no JSON"),
        ("[]", "found list, expected one JSON object"),
        ("{}", "type: found None, expected one of hello, watch, unwatch, facts, ping"),
        (text(type="shout"), 'type: found "shout", expected one of'),
        (text(type=["hello"]), "type: found ['hello'], expected one of"),
        (text(type="hello", role="boss"), 'role: found "boss", expected'),
        (text(type="hello", role="viewer", extra=1), "extra: found an unknown field"),
        (text(type="hello", role="lane", lane=0), "lane: found 0, expected at least 1"),
        (text(type="hello", role="lane", lane="4"), 'lane: found "4", expected a whole number'),
        (text(type="hello", role="table", sender="x" * 65), "sender: found"),
        (text(type="hello", role="table", key="x" * 201), "key: found"),
        (text(type="watch", view="heat", number=-1), "number: found -1"),
        (text(type="watch", view="x" * 41), "view: found"),
        (text(type="watch", view="heat", heat="../etc"), 'heat: found "../etc"'),
        (text(type="facts", facts=[]), "facts: found list, expected"),
        (text(type="facts", facts=[0] * 257), "facts: found list, expected"),
        (text(type="ping"), "t1: found nothing"),
        (text(type="ping", t1=True), "t1"),
        (text(type="ping", t1=1e300), "t1"),
    ],
)
def test_what_cannot_be_read_is_explained(message: str, told: str) -> None:
    """A message that cannot be read is answered with where, what was found and what was expected."""
    with pytest.raises(BadMessage) as raised:
        read_message(message)
    assert told in str(raised.value)


def test_whole_numbers_go_as_far_as_every_program_reads_them_exactly() -> None:
    """Up to 2**53 - 1, the largest that I-JSON promises to be exact. Source: RFC 7493, 2.2."""
    watch = read_message(text(type="watch", view="heat", number=9_007_199_254_740_991))
    assert isinstance(watch, Watch) and watch.number == 9_007_199_254_740_991
    with pytest.raises(BadMessage, match="number: found 9007199254740992"):
        read_message(text(type="watch", view="heat", number=9_007_199_254_740_992))


def test_a_long_message_is_not_read() -> None:
    """A message of 64 KiB is read, one byte more is not; bytes count, not letters."""
    room = MESSAGE_LIMIT - len(text(type="facts", facts=[""]))
    assert isinstance(read_message(text(type="facts", facts=["x" * room])), Facts)
    with pytest.raises(BadMessage, match="65537 bytes, expected at most 65536"):
        read_message(text(type="facts", facts=["x" * (room + 1)]))
    with pytest.raises(BadMessage, match="expected at most"):
        read_message(text(type="facts", facts=["é" * (room - 10)]))


def test_deep_nesting_is_explained() -> None:
    """Lists hundreds deep are a bad message, not a crash, wherever they stand."""
    deep = "[" * 900 + "]" * 900
    for message in (f'{{"type": {deep}}}', f'{{"type": "hello", "role": {deep}}}'):
        with pytest.raises(BadMessage):
            read_message(message)


@given(st.text() | st.binary())
def test_random_text_never_crashes(data: str | bytes) -> None:
    """Any text or bytes at all are either a message or a BadMessage."""
    with pytest.raises(BadMessage):
        read_message(data)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**63), 2**64 - 1) | st.floats(allow_nan=False) | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
)
field_names = st.sampled_from(["role", "key", "lane", "sender", "view", "heat", "epoch", "number", "facts", "t1"])


@given(st.sampled_from(["hello", "watch", "unwatch", "facts", "ping"]), st.dictionaries(field_names, json_values))
def test_random_fields_never_crash(kind: str, fields: dict[str, Any]) -> None:
    """Known messages with any values in their fields are either read or a BadMessage."""
    try:
        message = read_message(orjson.dumps({"type": kind, **fields}))
    except BadMessage as exc:
        assert "expected" in str(exc)
    else:
        assert message.type == kind


def test_an_allowance_runs_out_and_fills_up() -> None:
    """A client may say `burst` at once, then `rate` a second, and after a rest `burst` again."""
    allowance = Allowance(rate=10, burst=3)
    assert [allowance.spend(0.0) for _ in range(4)] == [True, True, True, False]
    assert [allowance.spend(0.1), allowance.spend(0.1)] == [True, False]
    assert [allowance.spend(60.0) for _ in range(4)] == [True, True, True, False]


def test_an_allowance_survives_a_clock_that_stands() -> None:
    """Time that runs backwards gives nothing and takes nothing."""
    allowance = Allowance(rate=10, burst=1)
    assert allowance.spend(5.0)
    assert not allowance.spend(1.0)
