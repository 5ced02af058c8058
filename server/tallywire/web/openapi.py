"""The HTTP paths described as OpenAPI 3.1, made from the routes and the models that they read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from importlib.metadata import version
from typing import Any

import orjson
from pydantic import BaseModel, TypeAdapter
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from tallywire.shell.read_model import VIEW_NAMES
from tallywire.web.asyncapi import PATH as ASYNCAPI
from tallywire.web.batch_route import MachineBatch
from tallywire.web.link_routes import MakeLinks, RenewLink, TypedCode
from tallywire.web.make_routes import CompetitionDraft, DealLanes, SaveDraft, SaveRundown
from tallywire.web.outlet_schema import FRAME, row_schemas, rows_schema
from tallywire.web.pages import WORDS_PATH, WORKER_PATH
from tallywire.web.slips import Slip
from tallywire.wire.steering import Steer

Data = dict[str, Any]
JSON, TEXT = "application/json", "text/plain; charset=utf-8"
METRICS = "text/plain; version=0.0.4; charset=utf-8"
PATH = "/openapi.json"
_PARAMETER = re.compile(r"\{(\w+)\}")
_REASONS = {
    304: "what you named is still the newest",
    400: "what was sent cannot be read",
    401: "a key is needed, or another one",
    404: "there is none",
    405: "the path is there, but not for this method",
    409: "it cannot be done now",
    421: "the Host is none of this server's own",
    429: "too many were tried",
    431: "the head of the request is too long",
    503: "there is nothing to give yet",
}
_SAID_IN = {"lang": "a language of the program, such as fr, for what is wrong; English unless said"}
_TOLD_IN = {"lang": "a language of the program, such as fr, for the sentences; the competition's unless said"}
_IN_LANGUAGE = {"lang": "a language of the program, such as fr, for the cues; the competition's unless said"}
_OBJECT: Data = {"type": "object"}
_TEXT: Data = {"type": "string"}
_PROBLEM: Data = {
    "type": "object",
    "properties": {"code": _TEXT, "message": _TEXT, "path": _TEXT, "reason": _OBJECT},
    "required": ["code", "message"],
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """What a route's own code does not say: the media type and required fields of its answer, and how it may refuse."""

    status: int = 200
    media: str = JSON
    fields: Sequence[str] = ()
    refusals: Sequence[int] = ()
    body: type[BaseModel] | None = None
    query: Mapping[str, str] = field(default_factory=dict)
    keyed: bool = False
    schema: Data | None = None


_SCHEMAS = "#/components/schemas/"
_OUTLET = "/v1/heats/{heat}/{view}/"
_EVENTS = "text/event-stream; charset=utf-8"
_MANAGED = (400, 401, 404, 409)
_ON_BENCH = ("name", "version", "text", "data", "problems", "formats")
_OUTLETS = (304, 401, 404, 503)
OPERATIONS: Mapping[tuple[str, str], Described] = {
    ("GET", "/health"): Described(fields=("status", "mode", "journal", "clients", "heat")),
    ("GET", "/ready"): Described(fields=("ready",), refusals=(503,)),
    ("GET", "/figures"): Described(fields=("version", "wrong", "journal", "recent"), refusals=(401,), keyed=True),
    ("GET", "/metrics"): Described(media=METRICS, refusals=(401,), keyed=True),
    ("GET", "/snapshot/{view}"): Described(
        fields=("type", "view", "heat", "epoch", "number", "unix_ms", "frame"),
        refusals=(401, 404),
        query={"heat": "a heat's id, floor, or floor: and a floor's id", **_IN_LANGUAGE},
        keyed=True,
    ),
    ("GET", "/recording"): Described(media="application/x-ndjson", refusals=(401, 503), keyed=True),
    ("GET", "/story"): Described(
        fields=("mode", "heat", "title", "heats", "sentences"),
        refusals=(401, 404, 503),
        query={"heat": "a heat's id, or floor", **_TOLD_IN},
        keyed=True,
    ),
    ("GET", "/rehearsal"): Described(
        fields=("at_ms", "length_ms", "playing", "speed", "heats", "changes", "moments", "still_looking"),
        refusals=(401, 404),
        query=_IN_LANGUAGE,
        keyed=True,
    ),
    ("POST", "/rehearsal"): Described(
        fields=("at_ms", "length_ms", "playing", "speed", "heats", "changes", "moments", "still_looking", "said"),
        refusals=(400, 401, 404),
        body=Steer,
        query=_IN_LANGUAGE,
        keyed=True,
    ),
    ("GET", "/practice"): Described(
        fields=("seed", "heats", "frame", "truth"),
        refusals=(404,),
        query={
            "heat": "a heat's id, or floor",
            "lane": "the lane's number; the heat's first unless said",
            "seed": "the same for the same lane: 0 to 999999, 1 unless said",
        },
    ),
    ("POST", "/facts"): Described(
        fields=("type", "sender", "watermark", "refused"),
        refusals=(400, 401, 409, 429),
        body=MachineBatch,
        keyed=True,
    ),
    ("GET", "/links"): Described(
        fields=("links", "lanes", "outputs", "addresses", "fingerprint"), refusals=(401,), keyed=True
    ),
    ("POST", "/links"): Described(fields=("slips", "address"), refusals=_MANAGED, body=MakeLinks, keyed=True),
    ("POST", "/links/code"): Described(fields=("path", "title", "key"), refusals=(400, 404, 429), body=TypedCode),
    ("POST", "/links/{link}/revoke"): Described(refusals=_MANAGED, keyed=True),
    ("POST", "/links/{link}/renew"): Described(
        fields=("slips", "address"), refusals=_MANAGED, body=RenewLink, keyed=True
    ),
    ("GET", "/make/file"): Described(query=_SAID_IN, fields=_ON_BENCH, refusals=(401, 404, 409), keyed=True),
    ("POST", "/make/check"): Described(
        query=_SAID_IN, fields=("problems",), refusals=_MANAGED, body=CompetitionDraft, keyed=True
    ),
    ("POST", "/make/save"): Described(query=_SAID_IN, fields=_ON_BENCH, refusals=_MANAGED, body=SaveDraft, keyed=True),
    ("POST", "/make/deal"): Described(fields=("heats",), refusals=_MANAGED, body=DealLanes, keyed=True),
    ("POST", "/make/rehearse"): Described(fields=("port", "table", "desk"), refusals=_MANAGED, keyed=True),
    ("POST", "/make/run"): Described(refusals=_MANAGED, keyed=True),
    ("POST", "/rundown/save"): Described(fields=("name",), refusals=_MANAGED, body=SaveRundown, keyed=True),
    ("GET", "/theme/sheet.css"): Described(media="text/css; charset=utf-8"),
    ("GET", "/theme/face"): Described(media="font/woff2", refusals=(404,)),
    ("GET", "/theme/logo"): Described(media="image/*", refusals=(404,)),
    ("GET", "/public/"): Described(media="text/html; charset=utf-8"),
    ("GET", "/public/{language}/"): Described(media="text/html; charset=utf-8", refusals=(404,)),
    ("GET", "/public/newest"): Described(fields=("segment", "unix_ms", "changes"), refusals=(503,)),
    ("GET", "/public/newest/{floor}"): Described(fields=("segment", "unix_ms", "changes"), refusals=(404, 503)),
    ("GET", "/public/segments/{name}"): Described(fields=("view", "heat", "lanes", "ranking"), refusals=(404,)),
    ("GET", ASYNCAPI): Described(fields=("asyncapi", "info", "channels", "operations")),
    ("GET", "/v1/"): Described(fields=("version", "addresses", "views", "floors", "heats")),
    ("GET", f"{_OUTLET}frame.json"): Described(refusals=_OUTLETS, query=_IN_LANGUAGE, keyed=True, schema=FRAME),
    ("GET", f"{_OUTLET}rows.json"): Described(refusals=_OUTLETS, keyed=True, schema=rows_schema(_SCHEMAS)),
    ("GET", f"{_OUTLET}rows.csv"): Described(
        media="text/csv; charset=utf-8; header=present", refusals=_OUTLETS, keyed=True
    ),
    ("GET", f"{_OUTLET}frame.events"): Described(media=_EVENTS, refusals=_OUTLETS, query=_IN_LANGUAGE, keyed=True),
    ("GET", f"{_OUTLET}rows.events"): Described(media=_EVENTS, refusals=_OUTLETS, keyed=True),
    ("GET", WORKER_PATH): Described(media="text/javascript; charset=utf-8"),
    ("GET", WORDS_PATH): Described(media="text/javascript; charset=utf-8", refusals=(404,)),
    ("GET", "/"): Described(status=307, media=""),
    ("GET", PATH): Described(fields=("openapi", "info", "paths")),
}
"""Every method of every route; a test holds it against them."""


class Description:
    """The endpoint that gives the description."""

    def __init__(self, routes: Iterable[BaseRoute]) -> None:
        self._routes = [each for each in routes if isinstance(each, Route)]

    async def show(self, _request: Request) -> Response:
        """Give this description."""
        own = Route(PATH, self.show)
        return Response(orjson.dumps(description([*self._routes, own])), media_type=JSON)


def description(routes: Iterable[Route]) -> Data:
    """Give the whole description (OpenAPI Specification 3.1.1)."""
    paths: dict[str, Data] = {}
    for route in routes:
        for method in sorted((route.methods or set()) - {"HEAD"}):
            paths.setdefault(route.path, {})[method.lower()] = _operation(route, OPERATIONS[(method, route.path)])
    return {
        "openapi": "3.1.0",
        "info": {"title": "Tallywire", "version": version("tallywire")},
        "paths": paths,
        "components": {
            "schemas": {"Problem": _PROBLEM, "Slip": TypeAdapter(Slip).json_schema(), **row_schemas(), **_bodies()},
            "securitySchemes": {"key": {"type": "http", "scheme": "bearer"}},
        },
    }


def _operation(route: Route, described: Described) -> Data:
    said: Data = {
        "operationId": f"{route.endpoint.__qualname__}",
        "summary": (route.endpoint.__doc__ or "").strip().splitlines()[0],
        "parameters": [*_in_path(route.path), *_in_query(described.query)],
        "responses": {
            str(described.status): _answer(described),
            **{str(status): _refusal(status) for status in sorted({*described.refusals, 400, 405, 421, 431})},
        },
    }
    if described.body is not None:
        schema = {"$ref": f"#/components/schemas/{described.body.__name__}"}
        said["requestBody"] = {"required": True, "content": {JSON: {"schema": schema}}}
    # Without a key a view for everybody is given all the same.
    return said | ({"security": [{"key": []}, {}]} if described.keyed else {})


def _answer(described: Described) -> Data:
    schema: Data = {"type": "string"}
    if described.schema is not None:
        schema = described.schema
    elif described.media == JSON:
        own: Data = {"slips": {"type": "array", "items": {"$ref": "#/components/schemas/Slip"}}}
        shown = {name: own.get(name, {}) for name in described.fields}
        schema = _OBJECT | {"properties": shown, "required": list(described.fields)}
    content = {"content": {described.media: {"schema": schema}}} if described.media else {}
    return {"description": "done", **content}


def _refusal(status: int) -> Data:
    if status == 304:
        return {"description": _REASONS[status]}
    schema = {"$ref": "#/components/schemas/Problem"}
    return {"description": _REASONS[status], "content": {JSON: {"schema": schema}}}


def _in_path(path: str) -> list[Data]:
    schemas: dict[str, Data] = {"view": {"enum": list(VIEW_NAMES)}}
    return [
        {"name": name, "in": "path", "required": True, "schema": {"type": "string", **schemas.get(name, {})}}
        for name in _PARAMETER.findall(path)
    ]


def _in_query(query: Mapping[str, str]) -> list[Data]:
    return [{"name": name, "in": "query", "description": what, "schema": _TEXT} for name, what in query.items()]


def _bodies() -> dict[str, Data]:
    found: dict[str, Data] = {}
    for described in OPERATIONS.values():
        if described.body is not None:
            schema = described.body.model_json_schema(ref_template="#/components/schemas/{model}")
            found |= schema.pop("$defs", {})
            found[described.body.__name__] = schema
    return found
