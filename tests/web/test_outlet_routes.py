"""The outlets over HTTP: their forms, conditional requests, who may see what, and which pages may read them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import orjson
import pytest

from core.samples import Pad
from shell.stage import two_heats
from tallywire.core.facts import HoldPlaced
from tallywire.core.outlets.columns import ROW_KINDS
from tallywire.shell.books import Change
from tallywire.shell.fan_out import FanOut
from tallywire.shell.links import Wish
from tallywire.shell.outlets import FOR_KEYS, Outlet
from tallywire.shell.read_model import VIEW_NAMES
from tallywire.web.settings import Settings
from tallywire.wire.short_frame import Shortener
from web.site import Site, site

HEAT = "/v1/heats/heat"
HANDED_OUT = [view for view in VIEW_NAMES if view != "booth"]
OPEN = [view for view in HANDED_OUT if view not in {"table", *FOR_KEYS}]
PAGES = "https://pages.example"


@pytest.fixture(name="server")
def _server() -> Iterator[Site]:
    with site(called=two_heats(), settings=Settings(data=Path("unused"), allow_origins=(PAGES,))) as made:
        yield made


def happen(server: Site, *facts: Any) -> None:
    """Let facts be counted and shown."""

    def show() -> None:
        change = Change()
        for fact in facts:
            server.live.books.add(fact, change)
        server.live.show(change, server.live.books.snapshot())
        server.live.fan_out._tick()

    assert server.client.portal is not None
    server.client.portal.call(show)


@pytest.mark.parametrize("view", OPEN)
def test_every_view_is_handed_out_in_every_form(server: Site, view: str) -> None:
    """JSON is the whole frame of which the wire has the short one, without the list of holds; rows and CSV have the
    same records and columns."""
    happen(server, Pad("starter").start(), Pad("lane-1-a", 1).reps(1000, n=3))
    frame = server.client.get(f"{HEAT}/{view}/frame.json")
    assert frame.headers["content-type"] == "application/json"
    seen = server.client.get(f"/snapshot/{view}?heat=heat").json()["frame"]
    assert Shortener().shorten(frame.json()) == {name: value for name, value in seen.items() if name != "held"}
    rows = server.client.get(f"{HEAT}/{view}/rows.json").json()
    table = server.client.get(f"{HEAT}/{view}/rows.csv")
    assert table.headers["content-type"] == "text/csv; charset=utf-8; header=present"
    read = csv.DictReader(io.StringIO(table.text, newline=""), strict=True)
    assert read.fieldnames == [column.name for column in ROW_KINDS[view].columns]
    assert [record["view"] for record in read] == [row["view"] for row in rows]


@pytest.mark.parametrize("role", ["commentator", "table"])
@pytest.mark.parametrize("form", ["frame.json", "rows.json", "rows.csv", "frame.events", "rows.events"])
def test_the_booth_is_no_outlet(server: Site, role: str, form: str) -> None:
    """What is told to commentators is handed out in no form, with no key."""
    key = server.live.crew.links.issue([Wish(role=role)])[0].key
    answer = server.client.get(f"{HEAT}/booth/{form}", headers={"Authorization": f"Bearer {key}"})
    assert answer.status_code == 404
    assert answer.json()["message"].startswith('view: found "booth", expected one of heat, ')


def test_the_index_names_every_address(server: Site) -> None:
    """Whatever the index names is there: each form of each open view of each heat and floor answers."""
    index = server.client.get("/v1/").json()
    assert index["views"].keys() == set(HANDED_OUT)
    assert {view for view, said in index["views"].items() if said["key"]} == {"table", *FOR_KEYS}
    for heat in [*index["floors"], *(each["id"] for each in index["heats"])]:
        for address in index["addresses"]:
            path = address.replace("{heat}", heat).replace("{view}", "heat")
            method = "HEAD" if path.endswith(".events") else "GET"
            assert server.client.request(method, path).status_code == 200


def test_what_has_not_changed_is_not_sent_again(server: Site) -> None:
    """A strong tag names the bytes; whoever has them gets 304 and no body, by any form of the field, until they change.

    Source: RFC 9110 §8.8.3 (entity tags), §13.1.2 (If-None-Match: a list, `*`, weak comparison), §15.4.5 (304).
    """
    path = f"{HEAT}/heat/rows.json"
    first = server.client.get(path)
    tag = first.headers["etag"]
    assert tag.startswith('"')
    for named in (tag, f'"other", {tag}', f"W/{tag}", "*", f'"a",{tag} , "b"'):
        again = server.client.get(path, headers={"If-None-Match": named})
        assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)
    assert server.client.get(path, headers={"If-None-Match": '"other"'}).content == first.content
    assert server.client.get(f"{HEAT}/heat/rows.csv").headers["etag"] != tag
    happen(server, Pad("starter").start())
    newer = server.client.get(path, headers={"If-None-Match": tag})
    assert newer.status_code == 200
    assert newer.headers["etag"] != tag
    assert server.client.head(path).headers["etag"] == newer.headers["etag"]


def test_a_change_is_encoded_once_for_all(server: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    """Forty requests between two changes make one frame and encode each form once, conditional or not."""
    counts = dict.fromkeys(("frame", "encode"), 0)
    encode, refresh = Outlet._encoded, FanOut._refresh

    def encoding(outlet: Outlet, form: Any) -> Any:
        counts["encode"] += 1
        return encode(outlet, form)

    def refreshing(fan_out: FanOut, feed: Any, snapshot: Any, **how: Any) -> None:
        counts["frame"] += feed.view == "heat"
        refresh(fan_out, feed, snapshot, **how)

    server.client.get(f"{HEAT}/heat/rows.json")
    monkeypatch.setattr(Outlet, "_encoded", encoding)
    monkeypatch.setattr(FanOut, "_refresh", refreshing)
    for n in range(1, 4):
        happen(server, Pad(f"starter-{n}").start() if n == 1 else Pad(f"lane-1-{n}", 1).reps(n * 1000))
        for _ in range(20):
            tag = server.client.get(f"{HEAT}/heat/rows.json").headers["etag"]
            server.client.get(f"{HEAT}/heat/rows.json", headers={"If-None-Match": tag})
        assert counts == {"frame": n, "encode": n}


def test_a_held_lane_is_handed_out_to_nobody(server: Site) -> None:
    """A medical hold takes the entry out of every open view and form, and nothing handed out says that there is one."""
    happen(server, Pad("starter").start(), Pad("lane-1-a", 1).reps(1000, n=3))
    happen(server, Pad("head-a", 1).conduct(HoldPlaced, 2000))
    for view in OPEN:
        for form in ("frame.json", "rows.json", "rows.csv"):
            text = server.client.get(f"{HEAT}/{view}/{form}").text
            # In the next heat the same entry is not held: a hold is of one lane of one heat.
            assert view == "next" or not ('"e1"' in text or "Entry 1" in text)
            assert "held" not in text


CREW = {"table": {"lane", "backup", "table", "head"}, "subjects": {"table", "head", "desk", "owner"}}


@pytest.mark.parametrize(("view", "roles"), CREW.items(), ids=CREW)
def test_views_of_the_crew_need_a_key_of_theirs(server: Site, view: str, roles: set[str]) -> None:
    """The table, and whom a view can be about, are given to the roles that work with them, in every form; a lane's
    link sees its own lane alone."""
    links = server.live.crew.links
    for role in ("lane", "backup", "table", "head", "desk", "commentator", "display", "owner"):
        lane = 1 if role in ("lane", "backup") else None
        key = links.owner_key() if role == "owner" else links.issue([Wish(role=role, lane=lane)])[0].key
        answer = server.client.get(f"{HEAT}/{view}/rows.json", headers={"Authorization": f"Bearer {key}"})
        assert answer.status_code == (200 if role in roles else 401), role
        if lane and role in roles:
            assert {row["lane"] for row in answer.json()} == {1}
    for form in ("frame.json", "rows.json", "rows.csv", "frame.events", "rows.events"):
        refused = server.client.get(f"{HEAT}/{view}/{form}")
        assert (refused.status_code, refused.headers["www-authenticate"]) == (401, "Bearer")


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/v1/heats/heat/weather/rows.json", 404),
        ("/v1/heats/nowhere/heat/rows.json", 404),
        ("/v1/heats/heat/heat/rows.xml", 404),
        ("/v1/heats/%00/heat/rows.json", 404),
        (f"/v1/heats/{'x' * 5000}/heat/rows.json", 404),
        ("/v2/", 404),
    ],
)
def test_what_is_not_there_is_said_to_be_missing(server: Site, path: str, status: int) -> None:
    """Unknown heats, views, forms and versions are refused with a short answer that opens no outlet."""
    answer = server.client.get(path)
    assert answer.status_code == status
    assert len(answer.content) < 10_000
    assert server.client.post(f"{HEAT}/heat/rows.json").status_code == 405
    assert server.live.fan_out.watches == 0


def test_only_pages_that_may_open_the_wire_may_read(server: Site) -> None:
    """CORS (Fetch Standard): an allowed origin is named in the answer, may send If-None-Match and read the tag; any
    other origin is not named, and no answer allows credentials."""
    path = f"{HEAT}/heat/rows.json"
    answer = server.client.get(path, headers={"Origin": PAGES})
    assert answer.headers["access-control-allow-origin"] == PAGES
    assert "etag" in answer.headers["access-control-expose-headers"].lower()
    assert "origin" in answer.headers["vary"].lower()
    asked = {"Origin": PAGES, "Access-Control-Request-Method": "GET", "Access-Control-Request-Headers": "if-none-match"}
    preflight = server.client.options(path, headers=asked)
    assert preflight.status_code == 200
    assert "if-none-match" in preflight.headers["access-control-allow-headers"].lower()
    foreign = server.client.get(path, headers={"Origin": "https://elsewhere.example"})
    other = server.client.get("/snapshot/heat", headers={"Origin": PAGES})
    for each in (foreign, other):
        assert "access-control-allow-origin" not in each.headers
    assert "access-control-allow-credentials" not in answer.headers


def test_an_outlet_that_nobody_reads_stops(server: Site) -> None:
    """An outlet watches while it is asked; a while after the last request it lets go, and begins anew when asked."""
    server.client.get(f"{HEAT}/heat/rows.json")
    assert server.live.fan_out.watches == 1
    outlets = server.live.fan_out._feeds[("heat", "heat")].writes
    assert len(outlets) == 1
    happen(server, Pad("starter").start())
    assert orjson.loads(server.client.get(f"{HEAT}/heat/rows.json").content)[0]["heat_status"] == "running"
