"""Which messages an edge hands on to the writer: those that show a key."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Any, cast

import orjson
import pytest

from tallywire.web import edge_route
from tallywire.web.edge_route import EdgeConversation, shows_key
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


class Talker:
    """The edge's own client: it notes what it was given."""

    address = "203.0.113.7"
    parting = None

    def __init__(self) -> None:
        self.took: list[str] = []

    def take(self, text: str) -> bool:
        """Take a message as a viewer's."""
        self.took.append(text)
        return True

    def hand_over(self) -> None:
        """Note nothing."""


class Writer:
    """A connection to the writer."""

    def __init__(self) -> None:
        self.sent: list[str] = []

    async def send(self, text: str) -> None:
        """Take what is handed on."""
        self.sent.append(text)

    async def __aiter__(self) -> AsyncIterator[str]:
        """Answer nothing."""
        return
        yield ""


async def test_what_follows_a_key_waits_for_a_writer_that_is_slow(monkeypatch: pytest.MonkeyPatch) -> None:
    """A watch that comes while the writer is being reached is no viewer's: it goes to the writer, after the hello."""
    reached, writer = asyncio.Event(), Writer()

    async def slow_connect(*_args: object, **_more: object) -> Writer:
        await reached.wait()
        return writer

    monkeypatch.setattr(edge_route, "connect", slow_connect)
    monkeypatch.setattr(edge_route, "writer_address", lambda _redis: "ws://writer/wire")
    conversation = EdgeConversation(cast(Any, None), cast(Any, None), cast(Any, None))
    talker = Talker()
    conversation.client = cast(Any, talker)
    watch = '{"type":"watch","view":"table"}'
    handing = asyncio.create_task(conversation.take_in_turn(hello(80)))
    await asyncio.sleep(0)
    assert not conversation.take_at_once(watch)
    reached.set()
    await handing
    await conversation.take_in_turn(watch)
    assert writer.sent == [hello(80), watch]
    assert talker.took == []


async def test_who_showed_no_key_leaves_without_a_writer() -> None:
    """There is nothing to end at the writer, and no error."""
    await EdgeConversation(cast(Any, None), cast(Any, None), cast(Any, None)).end()
