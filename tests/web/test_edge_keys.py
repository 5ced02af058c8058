"""Which messages an edge hands on to the writer: those that show a key."""

from __future__ import annotations

import orjson
import pytest

from tallywire.web.edge_route import shows_key
from tallywire.wire.messages import MESSAGE_LIMIT


def hello(length: int) -> str:
    """A hello with a key, of so many letters."""
    text = orjson.dumps({"type": "hello", "role": "table", "key": ""}).decode()
    return text.replace('"key":""', f'"key":"{"k" * (length - len(text))}"')


@pytest.mark.parametrize(
    ("text", "shows"),
    [
        (hello(MESSAGE_LIMIT), True),
        (hello(MESSAGE_LIMIT + 1), False),
        ('{"type":"hello","key":null}', False),
        ('{"type":"watch","key":"k"}', False),
        ('["key"]', False),
        ('{"key"', False),
    ],
)
def test_a_hello_with_a_key_is_known_however_long_a_message_may_be(text: str, shows: bool) -> None:
    """A hello of the most letters a message may have shows its key; no other message does."""
    assert shows_key(text) is shows
