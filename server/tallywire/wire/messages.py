"""What a client may say: one model a message, bounded in every field. See docs/wire.md."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

import orjson
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from tallywire.core.errors import BadMessage
from tallywire.wire.catalogue import Language
from tallywire.wire.problems import problems_of, shown

MESSAGE_LIMIT = 64 * 1024
FACTS_LIMIT = 256
FIELDS_LIMIT = 16
"""No message has half as many: each that is unknown would be a line of the answer."""

Name = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._:-]{0,63}$")]
Whole = Annotated[int, Field(ge=0, le=2**53 - 1)]


class ClientMessage(BaseModel):
    """What all messages of a client share: nothing unknown, nothing converted."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class Hello(ClientMessage):
    """Who I am, and the key that proves it."""

    type: Literal["hello"]
    role: Literal["viewer", "lane", "backup", "table", "head", "desk", "commentator", "spotter", "display", "machine"]
    key: Annotated[str | None, Field(max_length=200, repr=False)] = None
    lane: Annotated[int, Field(ge=1, le=99)] | None = None
    floor: Name | None = None
    sender: Name | None = None


class Watch(ClientMessage):
    """Send me this view from now on; `epoch` and `number` say which frame I have.

    `packed`: snapshots may come with their tables as rows. `language` is that of the cues, where the view has some.
    """

    type: Literal["watch"]
    view: Annotated[str, Field(max_length=40)]
    heat: Name = "floor"
    language: Language | None = None
    epoch: Annotated[str, Field(max_length=40)] | None = None
    number: Whole | None = None
    packed: bool = False


class Unwatch(ClientMessage):
    """Send me this view, watched in this language, no longer."""

    type: Literal["unwatch"]
    view: Annotated[str, Field(max_length=40)]
    heat: Name = "floor"
    language: Language | None = None


class Facts(ClientMessage):
    """Facts in the sender's order. Each is read on its own, so that one that cannot be read does not block the rest."""

    type: Literal["facts"]
    facts: Annotated[list[Any], Field(min_length=1, max_length=FACTS_LIMIT)]


class Ping(ClientMessage):
    """What time is it? `t1` is the client's clock in milliseconds."""

    type: Literal["ping"]
    t1: Annotated[int | float, Field(ge=-(2**53), le=2**53)]


class DeviceStatus(ClientMessage):
    """How a device that counts is: the table sees it. Nothing is counted by it.

    `waiting` facts are not acknowledged, `held` touches have no time yet; the time of a touch is known to `error_ms`;
    the device's own clock is `ahead_ms` ahead of the server's; `battery` is in percent.
    """

    type: Literal["status"]
    waiting: Annotated[int, Field(ge=0, le=1_000_000)]
    held: Annotated[int, Field(ge=0, le=1_000_000)] = 0
    battery: Annotated[int, Field(ge=0, le=100)] | None = None
    error_ms: Whole | None = None
    ahead_ms: Annotated[int, Field(ge=-(2**53), le=2**53)] | None = None


Message = Hello | Watch | Unwatch | Facts | Ping | DeviceStatus
CLIENT_MESSAGES: Mapping[str, type[Message]] = {
    "hello": Hello,
    "watch": Watch,
    "unwatch": Unwatch,
    "facts": Facts,
    "ping": Ping,
    "status": DeviceStatus,
}
"""What a client may say, by its `type`."""


def read_message(text: str | bytes) -> Message:
    """Read one message of a client. Raises BadMessage that says where, what was found and what was expected."""
    data = _object(text)
    kind = data.get("type")
    model = CLIENT_MESSAGES.get(kind) if isinstance(kind, str) else None
    try:
        if model is None:
            raise BadMessage(f"found {shown(kind)}, expected one of {', '.join(CLIENT_MESSAGES)}", path="type")
        return model.model_validate(data)
    except ValidationError as exc:
        raise BadMessage("; ".join(str(problem) for problem in problems_of(exc))) from exc
    except RecursionError as exc:
        raise too_deep() from exc


def too_deep() -> BadMessage:
    """The error for lists within lists within lists, which Python cannot even show."""
    return BadMessage("found values nested hundreds deep, expected a flat message")


def _object(text: str | bytes) -> dict[str, Any]:
    size = len(text) if isinstance(text, bytes) else len(text.encode(errors="replace"))
    if size > MESSAGE_LIMIT:
        raise BadMessage(f"found a message of {size} bytes, expected at most {MESSAGE_LIMIT}: send fewer facts at once")
    try:
        data = orjson.loads(text)
    except orjson.JSONDecodeError as exc:
        raise BadMessage(f"found no JSON ({exc}), expected one JSON object") from exc
    if not isinstance(data, dict):
        raise BadMessage(f"found {type(data).__name__}, expected one JSON object with a type")
    if len(data) > FIELDS_LIMIT:
        raise BadMessage(f"found {len(data)} fields, expected at most {FIELDS_LIMIT}")
    return data
