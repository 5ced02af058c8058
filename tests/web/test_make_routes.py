"""A competition is made over HTTP: checked, saved, dealt, and left alone while a heat is on the floor."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from starlette.applications import Starlette
from starlette.testclient import TestClient

from e2e.processes import PRACTICE
from tallywire.shell.keys import make_keys
from tallywire.shell.links import Links
from tallywire.shell.workbench import Workbench
from tallywire.web.app import make_routes
from tallywire.web.make_routes import FloorNow, MakeRoutes

DATA = tomllib.loads(PRACTICE)


@contextmanager
def maker(path: Path, *, busy: str | None = None) -> Iterator[tuple[TestClient, Workbench, Links]]:
    """The routes over one file, without a server round them."""
    links = Links(now_ms=lambda: 1_800_000_000_000)
    links.begin(make_keys([]))
    bench = Workbench(path)
    routes = make_routes(MakeRoutes(links, bench, None, floor=FloorNow(busy=lambda: busy)))
    with TestClient(Starlette(routes=routes), headers={"Authorization": f"Bearer {links.start.table}"}) as client:
        yield client, bench, links


@pytest.fixture(name="path")
def _path(tmp_path: Path) -> Path:
    return tmp_path / "cove.toml"


def test_a_file_that_is_not_there_yet_is_made(path: Path) -> None:
    """Opened it says nothing and names the formats; checked and saved it is a file without problems."""
    with maker(path) as (client, bench, _):
        told = client.get("/make/file").json()
        assert (told["version"], told["data"], told["problems"]) == ("", {}, [])
        assert {"name": "amrap"} in told["formats"]
        assert client.post("/make/check", json={"data": DATA}).json() == {"problems": []}
        saved = client.post("/make/save", json={"data": DATA, "version": ""}).json()
        assert tomllib.loads(path.read_text(encoding="utf-8")) == DATA == saved["data"]
        assert client.post("/make/run").status_code == 200
        assert bench.renewed.is_set()


def test_problems_come_with_their_places(path: Path) -> None:
    """What is wrong with a draft is an answer; of one that is to be saved the same is a refusal."""
    draft = DATA | {"heat": [{"id": "h1", "name": "Heat 1", "event": "none", "lanes": {"1": "a"}}]}
    with maker(path) as (client, _, _):
        [problem] = client.post("/make/check", json={"data": draft}).json()["problems"]
        assert problem["path"] == "heat[1].event"
        [asked] = client.post("/make/check?lang=fr", json={"data": draft}).json()["problems"]
        assert asked["said"] == {
            "at": "heat[1].event",
            "found": '"none"',
            "expected": "une épreuve de ce fichier : long",
        }
        assert (asked["found"], asked["expected"]) == (problem["found"], problem["expected"])
        refused = client.post("/make/save", json={"data": draft, "version": ""})
        assert (refused.status_code, refused.json()["problems"]) == (409, [problem])
        assert client.post("/make/run").status_code == 409
        assert not path.exists()


def test_lanes_are_dealt_as_they_are_seeded(path: Path) -> None:
    """Five entries on three lanes: the weak heat first, the best in the middle of the last."""
    order = ["one", "two", "three", "four", "five"]
    with maker(path) as (client, _, _):
        heats = client.post("/make/deal", json={"order": order, "lanes": [1, 2, 3]}).json()["heats"]
    assert heats == [{"2": "four", "3": "five"}, {"1": "three", "2": "one", "3": "two"}]


@pytest.mark.parametrize("what", ["check", "save", "rehearse", "run"])
def test_nothing_is_worked_out_while_a_heat_is_on_the_floor(path: Path, what: str) -> None:
    """Taps come first: each is refused with the reason, and the file can still be looked at."""
    with maker(path, busy="a heat runs") as (client, _, _):
        refused = client.post(f"/make/{what}", json={"data": DATA, "version": ""})
        assert (refused.status_code, refused.json()["code"], refused.json()["message"]) == (409, "busy", "a heat runs")
        assert client.get("/make/file").status_code == 200


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[]",
        b'{"data": null}',
        b'{"data": {"entry": [null]}}',
        b'{"data": {"a":' * 12 + b"1" + b"}" * 24,
        b'{"data": {}, "more": 1}',
        b'{"data": {"x": "' + b"y" * (2 * 1024 * 1024) + b'"}}',
    ],
    ids=["nothing", "a list", "null", "null inside", "too deep", "an unknown field", "too long"],
)
def test_what_no_file_can_say_is_refused_in_words(path: Path, body: bytes) -> None:
    """Hostile bodies get an answer, and leave no file."""
    with maker(path) as (client, _, _):
        answer = client.post("/make/check", content=body)
        assert answer.status_code == 400, answer.text
        assert answer.json()["message"]
    assert not path.exists()


def test_only_the_table_makes_competitions(path: Path) -> None:
    """Without a key, and with the desk's, nothing is told and nothing is written."""
    with maker(path) as (client, _, links):
        for key in ("", links.start.desk, "x" * 24):
            headers: dict[str, Any] = {"Authorization": f"Bearer {key}"}
            assert client.get("/make/file", headers=headers).status_code == 401
            answer = client.post("/make/save", json={"data": DATA, "version": ""}, headers=headers)
            assert answer.status_code == 401
    assert not path.exists()
