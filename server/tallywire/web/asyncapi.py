"""What is sent without being asked for each time, described as AsyncAPI 3.0: the wire, the streams, and pushes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from importlib.metadata import version
from typing import Any

import orjson
from starlette.requests import Request
from starlette.responses import Response

from tallywire.core.outlets.columns import ROW_KINDS
from tallywire.web.outlet_schema import FRAME, row_schemas, rows_schema
from tallywire.wire.event_stream import MEDIA_TYPE
from tallywire.wire.messages import CLIENT_MESSAGES
from tallywire.wire.push import FORMS

Data = dict[str, Any]
PATH = "/asyncapi.json"
_JSON = "application/json"
_SCHEMAS = "#/components/schemas/"
_TEXT: Data = {"type": "string"}
_WHOLE: Data = {"type": "integer"}
_NUMBER: Data = {"type": "number"}
_LIST: Data = {"type": "array"}
_TABLE: Data = {"type": "object"}
_STAMP: Mapping[str, Data] = {"view": _TEXT, "heat": _TEXT, "number": _WHOLE, "unix_ms": _WHOLE}
REPLIES: Mapping[str, Mapping[str, Data]] = {
    "welcome": {"role": _TEXT, "mode": _TEXT, "speed": _NUMBER},
    "acknowledged": {"sender": _TEXT, "watermark": _WHOLE, "refused": _LIST},
    "gap": {"expected": _WHOLE, "found": _WHOLE},
    "pong": {"t1": _NUMBER, "t2": _WHOLE, "t3": _WHOLE},
    "error": {"code": _TEXT, "message": _TEXT},
    "snapshot": {**_STAMP, "epoch": _TEXT, "frame": _TABLE},
    "patch": {**_STAMP, "patch": _TABLE},
    "storage": {"state": {"enum": ["ok", "low", "held"]}, "message": _TEXT},
}
"""What the server says on the wire, with the fields that are always there."""


async def show(_request: Request) -> Response:
    """Give the description of the wire, the streams and the pushes as AsyncAPI 3.0."""
    return Response(orjson.dumps(description()), media_type=_JSON)


def description() -> Data:
    """Give the whole description, as it looks from the server: it receives what clients say, and sends the rest."""
    return {
        "asyncapi": "3.0.0",
        "info": {
            "title": "Tallywire",
            "version": version("tallywire"),
            "description": "See docs/wire.md and outlets.md.",
        },
        "defaultContentType": _JSON,
        "servers": {"wire": _server("ws"), "streams": _server("http")},
        "channels": {
            "wire": _channel("/wire", "wire", [*CLIENT_MESSAGES, *REPLIES]),
            "frameEvents": _stream("frame"),
            "rowEvents": _stream("rows"),
            "push": _push(),
        },
        "operations": {
            "hear": _operation("receive", "wire", CLIENT_MESSAGES),
            "answer": _operation("send", "wire", REPLIES),
            "sendFrames": _operation("send", "frameEvents", ["frame"]),
            "sendRows": _operation("send", "rowEvents", ["rows"]),
            "push": _operation("send", "push", ["frame", "rows", "table"]),
        },
        "components": {
            "messages": {**_client_messages(), **_replies(), **_states()},
            "schemas": {"Frame": FRAME, **row_schemas(), **_client_schemas()},
        },
    }


def _server(protocol: str) -> Data:
    port = {"port": {"default": "8400"}}
    host = {"host": {"default": "localhost", "description": "the server's own name or address"}}
    return {"host": "{host}:{port}", "protocol": protocol, "variables": host | port}


def _channel(address: str | None, server: str, messages: Sequence[str]) -> Data:
    known = {"servers": [{"$ref": f"#/servers/{server}"}]} if address else {}
    said = {name: {"$ref": f"#/components/messages/{name}"} for name in messages}
    return {"address": address, **known, "messages": said}


def _stream(what: str) -> Data:
    parameters = {
        "heat": {"description": "a heat's id, floor, or floor: and a floor's id", "default": "floor"},
        "view": {"enum": list(ROW_KINDS), "default": "heat"},
    }
    return {
        **_channel(f"/v1/heats/{{heat}}/{{view}}/{what}.events", "streams", [what]),
        "description": f"Server-sent events ({MEDIA_TYPE}); each is a whole state.",
        "parameters": parameters,
    }


def _push() -> Data:
    said = f"To the address that --push names, by POST or as a message of a websocket; in the forms {', '.join(FORMS)}."
    return {**_channel(None, "", ["frame", "rows", "table"]), "description": said}


def _operation(action: str, channel: str, messages: Sequence[str] | Mapping[str, Any]) -> Data:
    there = f"#/channels/{channel}"
    return {
        "action": action,
        "channel": {"$ref": there},
        "messages": [{"$ref": f"{there}/messages/{name}"} for name in messages],
    }


def _client_messages() -> Data:
    return {
        name: {"payload": {"$ref": f"{_SCHEMAS}{model.__name__}"}, "summary": (model.__doc__ or "").splitlines()[0]}
        for name, model in CLIENT_MESSAGES.items()
    }


def _client_schemas() -> Data:
    return {model.__name__: model.model_json_schema() for model in CLIENT_MESSAGES.values()}


def _replies() -> Data:
    return {name: {"payload": _reply(name, fields)} for name, fields in REPLIES.items()}


def _reply(name: str, fields: Mapping[str, Data]) -> Data:
    return {
        "type": "object",
        "properties": {"type": {"const": name}, **fields},
        "required": ["type", *fields],
    }


def _states() -> Data:
    return {
        "frame": {"payload": {"$ref": f"{_SCHEMAS}Frame"}},
        "rows": {"payload": rows_schema(_SCHEMAS)},
        "table": {"contentType": FORMS["rows.csv"], "payload": {"type": "string"}},
    }
