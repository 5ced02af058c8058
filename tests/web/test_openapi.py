"""The description of our HTTP paths, held against the routes, against OpenAPI's own schema, and against a server."""

from __future__ import annotations

import asyncio
import inspect
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from openapi_spec_validator import OpenAPIV31SpecValidator
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from starlette.routing import Match, Mount, Route

from core.samples import competition
from tallywire.core.outlets.columns import ROW_KINDS
from tallywire.shell.links import Wish
from tallywire.web.http_routes import HttpRoutes
from tallywire.web.openapi import OPERATIONS, description
from tallywire.web.serving import Running, running
from tallywire.web.settings import Settings
from web.site import Site, site

EXAMPLES, EXAMPLES_LONG = 8, 300
CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]


@pytest.fixture(name="server", scope="module")
def _server() -> Iterator[Site]:
    with site() as made:
        yield made


def _routes(server: Site) -> list[Route]:
    mounted = next(each for each in server.client.app.routes if isinstance(each, Mount))  # type: ignore[attr-defined]
    return [each for each in mounted.app.routes if isinstance(each, Route)]  # type: ignore[attr-defined]


def _scope(method: str, path: str) -> dict[str, Any]:
    """A request as a route sees it."""
    return {"type": "http", "method": method, "path": path.partition("?")[0], "root_path": ""}


def test_every_route_is_described(server: Site) -> None:
    """Each method of each route has its entry, and no entry is left over."""
    found = {(method, each.path) for each in _routes(server) for method in (each.methods or set()) - {"HEAD"}}
    assert found == set(OPERATIONS)


def test_every_operation_says_what_any_request_may_be_refused_with(server: Site) -> None:
    """A request that is none, of a method that is not there, for another host, or with too long a head."""
    for methods in description(_routes(server))["paths"].values():
        for operation in methods.values():
            assert operation["responses"].keys() >= {"400", "405", "421", "431"}


def test_every_field_of_a_query_that_is_read_is_described(server: Site) -> None:
    """What the code of a route looks for behind the question mark is a parameter of that route's description."""
    read = re.compile(r"""query(?:_params)?\.get\("(\w+)\"""")
    modules: dict[str, set[str]] = {}
    for (_, path), described in OPERATIONS.items():
        [route] = {each.path: each for each in _routes(server) if each.path == path}.values()
        modules.setdefault(inspect.unwrap(route.endpoint).__module__, set()).update(described.query)
    found = {name: set(read.findall(inspect.getsource(sys.modules[name]))) for name in modules}
    assert {name: fields - modules[name] for name, fields in found.items() if fields - modules[name]} == {}
    assert found["tallywire.web.story_route"] == {"heat", "lang"}


def test_it_is_served_as_made(server: Site) -> None:
    """What the server gives is the description of its own routes, each with a summary from its endpoint."""
    data = server.client.get("/openapi.json").json()
    assert data["openapi"].startswith("3.1.")
    assert data["paths"].keys() == description(_routes(server))["paths"].keys()
    for methods in data["paths"].values():
        assert all(operation["summary"] for operation in methods.values())
    bodies = data["components"]["schemas"]
    assert bodies["LinkWish"]["additionalProperties"] is False
    assert bodies["MakeLinks"]["properties"]["links"]["maxItems"] == 200


def test_it_is_what_the_standard_asks_for(server: Site) -> None:
    """The description keeps to OpenAPI 3.1, references and schemas included; a wrong one is found.

    Source: openapi-spec-validator, with the schema that the OpenAPI Initiative publishes.
    """
    data = server.client.get("/openapi.json").json()
    OpenAPIV31SpecValidator(data).validate()
    rows = data["components"]["schemas"]["LaneRow"]
    assert rows["required"] == list(rows["properties"]) == [each.name for each in ROW_KINDS["heat"].columns]
    data["paths"]["/health"]["get"]["responses"] = []
    assert list(OpenAPIV31SpecValidator(data).iter_errors())


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("POST", "/health", 405),
        ("DELETE", "/links", 405),
        ("GET", "/snapshot/weather", 404),
        ("GET", "/recording", 401),
        ("POST", "/links", 401),
        ("POST", "/links/code", 404),
    ],
)
def test_every_refusal_is_typed(server: Site, method: str, path: str, status: int) -> None:
    """Whatever is refused says so as JSON with a code and a message; only where pages are, people get a page."""
    answer = server.client.request(method, path, json={"code": "QQQQQQ"})
    assert answer.status_code == status
    assert answer.json().keys() >= {"code", "message"}
    refused = server.client.post("/links/code", content=b"[")
    assert (refused.status_code, refused.json()["code"]) == (400, "bad_message")


@pytest.mark.parametrize(
    "asked",
    [
        "GET /snapshot/weather",
        "GET /story?heat=none",
        "GET /rehearsal",
        "POST /rehearsal",
        "GET /practice?heat=none",
        "POST /links/code",
        "POST /links/none/revoke",
        "POST /links/none/renew",
        "GET /make/file",
        "POST /make/check",
        "POST /make/save",
        "POST /make/deal",
        "POST /make/rehearse",
        "POST /make/run",
        "GET /theme/face",
        "GET /theme/logo",
        "GET /public/xx/",
        "GET /public/newest/none",
        "GET /public/segments/none",
        "GET /v1/heats/none/heat/frame.json",
        "GET /v1/heats/none/heat/rows.json",
        "GET /v1/heats/none/heat/rows.csv",
        "GET /v1/heats/none/heat/frame.events",
        "GET /v1/heats/none/heat/rows.events",
        "GET /languages/xx.js",
    ],
)
def test_what_is_not_there_is_not_found_as_described(server: Site, asked: str) -> None:
    """A live competition's owner asks for what it does not have: 404, which the description has for the operation."""
    method, _, path = asked.partition(" ")
    owner = {"Authorization": f"Bearer {server.live.crew.links.owner_key()}"}
    body = {"code": "QQQQQQ"} if path == "/links/code" else {}
    answer = server.client.request(method, path, json=body, headers=owner)
    [route] = [each for each in _routes(server) if each.matches(_scope(method, path))[0] is Match.FULL]
    operation = description([route])["paths"][route.path][method.lower()]
    assert (answer.status_code, "404" in operation["responses"]) == (404, True)


def _try_everything(server: Running, key: str, examples: int) -> int:
    """Send what the description allows, and what it does not, with a key or without; give how many were sent."""
    schema = schemathesis.openapi.from_url(f"{server.address}/openapi.json")
    headers = {"Authorization": f"Bearer {key}"} if key else {}
    sent = 0

    def tried(operation: Any) -> None:
        @given(case=operation.as_strategy())
        @settings(
            max_examples=examples,
            deadline=None,
            database=None,
            phases=[Phase.generate],
            derandomize=examples == EXAMPLES,
            suppress_health_check=list(HealthCheck),
        )
        def one(case: Any) -> None:
            nonlocal sent
            sent += 1
            case.call_and_validate(headers=headers, checks=CHECKS)

        one()

    # A stream has no end: tests/web/test_outlet_events.py reads some.
    found: Any = schema.exclude(path_regex=r"\.events$").get_all_operations()
    for operation in found:
        tried(operation.ok())
    return sent


async def _tried(folder: Path, examples: int) -> None:
    async with running(competition(), Settings(data=folder / "data", port=0)) as server:
        for key in ("", server.live.crew.links.issue([Wish(role="table")])[0].key):
            sent = await asyncio.to_thread(_try_everything, server, key, examples)
            assert sent >= len(OPERATIONS) - 2
        assert server.live.lines == 0


@pytest.mark.slow
async def test_a_server_answers_as_described(tmp_path: Path) -> None:
    """Every operation, with a table's key and without one, answers with a status, a type and a shape that it names.

    Source: schemathesis, which makes the requests from the description and checks the answers against it.
    """
    await _tried(tmp_path, EXAMPLES)


@pytest.mark.long
async def test_a_server_answers_as_described_at_length(tmp_path: Path) -> None:
    """The same with three hundred requests for each operation."""
    await _tried(tmp_path, EXAMPLES_LONG)


@pytest.mark.slow
async def test_an_answer_that_is_not_described_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A mutant whose health has another shape than it says is caught."""
    right = HttpRoutes.health

    async def wrong(self: HttpRoutes, request: Any) -> Any:
        answer = await right(self, request)
        answer.body = b'{"status":1}'
        answer.headers["content-length"] = str(len(answer.body))
        return answer

    wrong.__doc__ = right.__doc__
    monkeypatch.setattr(HttpRoutes, "health", wrong)
    async with running(competition(), Settings(data=tmp_path / "data", port=0)) as server:
        with pytest.raises(BaseException, match="required property"):
            await asyncio.to_thread(_try_everything, server, "", 1)
