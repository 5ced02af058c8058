"""Each limit of what a client may say, from both sides: the last value that is taken, and the first that is not."""

from __future__ import annotations

from typing import Any

import orjson
import pytest

from tallywire.core.errors import BadMessage
from tallywire.shell.touches import Touches
from tallywire.web.code_limit import CodeLimit
from tallywire.wire import links
from tallywire.wire.fact_lines import read_fact
from tallywire.wire.messages import read_message
from tallywire.wire.problems import shown

HELLO = {"type": "hello", "role": "lane"}
WATCH = {"type": "watch", "view": "heat"}
STATUS = {"type": "status", "waiting": 0}
FAR = 2**53
TAKEN_AND_NOT: list[tuple[dict[str, Any], str, list[Any], list[Any]]] = [
    (HELLO, "lane", [1, 99], [0, 100]),
    (HELLO, "key", ["k" * 200], ["k" * 201]),
    (HELLO, "sender", ["s" * 64], ["s" * 65, ""]),
    (WATCH, "view", ["v" * 40], ["v" * 41]),
    (WATCH, "epoch", ["e" * 40], ["e" * 41]),
    (WATCH, "number", [0, FAR - 1], [-1, FAR]),
    ({"type": "unwatch"}, "view", ["v" * 40], ["v" * 41]),
    ({"type": "facts"}, "facts", [[{}], [{}] * 256], [[], [{}] * 257]),
    ({"type": "ping"}, "t1", [-FAR, FAR], [-FAR - 1, FAR + 1]),
    ({"type": "status"}, "waiting", [0, 1_000_000], [-1, 1_000_001]),
    (STATUS, "held", [0, 1_000_000], [-1, 1_000_001]),
    (STATUS, "battery", [0, 100], [-1, 101]),
    (STATUS, "error_ms", [0, FAR - 1], [-1, FAR]),
    (STATUS, "ahead_ms", [-FAR, FAR], [-FAR - 1, FAR + 1]),
]


@pytest.mark.parametrize(("message", "name", "taken", "refused"), TAKEN_AND_NOT)
def test_a_field_of_a_message_has_its_range(
    message: dict[str, Any], name: str, taken: list[Any], refused: list[Any]
) -> None:
    """What is in it is read as it was sent, and what is one beyond it is named with its field."""
    for value in taken:
        assert getattr(read_message(orjson.dumps(message | {name: value})), name) == value
    for value in refused:
        with pytest.raises(BadMessage, match=name):
            read_message(orjson.dumps(message | {name: value}))


def test_a_message_has_sixteen_fields_and_a_fact_24() -> None:
    """Of so many the unknown ones are named; of one more it is only said how many there are."""
    for read, first, most in ((read_message, {"type": "ping"}, 16), (read_fact, {"fact": "rep_counted"}, 24)):
        for count in (most, most + 1):
            data: Any = first | {f"x{n}": 1 for n in range(count - 1)}
            with pytest.raises(BadMessage) as told:
                read(orjson.dumps(data) if read is read_message else data)
            assert (f"found {count} fields" in str(told.value)) is (count > most)


def test_what_is_kept_of_a_refused_fact_is_bounded() -> None:
    """2,048 bytes of it are kept whole, and of its reason 500 letters."""
    assert links.kept_body(b"x" * 2048) == b"x" * 2048
    assert b"omitted" in links.kept_body(b"x" * 2049)
    for length in (500, 501):
        said = orjson.loads(links.kept_refusal(BadMessage("m" * length)))["message"]
        assert len(said) == 500
        assert (said == "m" * length) is (length == 500)


def test_what_is_shown_of_a_wrong_value_is_bounded() -> None:
    """Sixty letters of it; a longer one is cut where it is said to be."""
    assert len(shown("x" * 100)) == len(shown("x" * 1000)) < 70


def test_wrong_codes_are_ten_of_an_address_and_twenty_in_all() -> None:
    """And then five a minute of each: at 12 s one more may be tried."""
    limit = CodeLimit()
    for address, count in (("a", 10), ("b", 10), ("c", 0)):
        tried = 0
        while limit.may_try(address, 0.0):
            limit.was_wrong(address, 0.0)
            tried += 1
        assert tried == count
    assert not limit.may_try("c", 11.9)
    assert limit.may_try("c", 12.0)


def test_another_address_does_not_forget_what_one_has_tried() -> None:
    """Until a thousand are known: then all are forgotten, so that the list stays short; the bound of all holds."""
    limit = CodeLimit()
    for _ in range(10):
        limit.was_wrong("a", 0.0)
    for known in range(1, 1000):
        assert limit.may_try(f"other {known}", 0.0)
    assert not limit.may_try("a", 0.0)
    assert limit.may_try("one more", 0.0)
    assert limit.may_try("a", 0.0)


@pytest.mark.parametrize(
    ("gaps_ms", "expected_ms", "alarm"),
    [
        ([249], 1000, "double"),
        ([250], 1000, None),
        ([199], 400, "double"),
        ([200], 400, None),
        ([0], 1000, "double"),
        ([299] * 5, 1000, "too_fast"),
        ([300] * 5, 1000, None),
        ([299] * 4, 1000, None),
    ],
)
def test_touches_that_cannot_be(gaps_ms: list[int], expected_ms: int, alarm: str | None) -> None:
    """Nearer than 250 ms and half a rep is one finger; five reps in under three tenths of their time are too fast."""
    touches, at_ms = Touches(), 10_000
    said = touches.take(at_ms, expected_ms)
    for gap_ms in gaps_ms:
        at_ms += gap_ms
        said = touches.take(at_ms, expected_ms)
    assert said == alarm
