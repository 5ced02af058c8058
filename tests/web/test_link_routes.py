"""Links over HTTP: made, listed, taken back and renewed by the table; six letters become a link once."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from starlette.websockets import WebSocketDisconnect

from tallywire.shell.links import Wish
from tallywire.web.code_limit import CodeLimit
from web.site import Site, site
from wire.talk import text

TABLE = {"Authorization": "Bearer table-key"}


@pytest.fixture(name="server")
def _server() -> Iterator[Site]:
    with site() as made:
        yield made


def made(server: Site, **wish: Any) -> dict[str, Any]:
    """The slip of a new link."""
    response = server.client.post("/links", json={"links": [wish]}, headers=TABLE)
    assert response.status_code == 200, response.text
    slip: dict[str, Any] = response.json()["slips"][0]
    return slip


def hello(slip: dict[str, Any], lane: int) -> str:
    """The hello of a pad that has the slip."""
    return text(type="hello", role="lane", lane=lane, sender=f"lane-{lane}-a", key=slip["url"].partition("#key=")[2])


def test_a_slip_opens_its_page(server: Site) -> None:
    """A new link has the address of its page at the address asked, and its key opens the lane."""
    slip = made(server, role="lane", lane=2, label="lane 2, Saturday")
    assert slip["url"].startswith("http://testserver/pad/?lane=2#key=")
    assert (slip["title"], slip["label"]) == ("lane pad 2", "lane 2, Saturday")
    with server.wire(hello(slip, 2)) as talk:
        assert talk.hear()["type"] == "welcome"


def test_the_list_says_who_is_connected_and_knows_no_key(server: Site) -> None:
    """Each link with its label and its devices; keys and codes are nowhere in it."""
    slip = made(server, role="lane", lane=2, label="lane 2, Saturday")
    with server.wire(hello(slip, 2)) as talk:
        talk.hear()
        response = server.client.get("/links", headers=TABLE)
    [row] = [each for each in response.json()["links"] if each["id"] == slip["id"]]
    assert row["label"] == "lane 2, Saturday"
    assert [each["sender"] for each in row["devices"]] == ["lane-2-a"]
    assert response.json()["lanes"] == [1, 2, 3]
    assert slip["url"].partition("#key=")[2] not in response.text
    assert slip["code"] not in response.text


@pytest.mark.parametrize("how", ["revoke", "renew"])
def test_a_revoked_device_hears_why_and_is_cut_off(server: Site, how: str) -> None:
    """In mid-heat: the pad is told, its connection closes with 1008, and its key opens nothing any more."""
    slip = made(server, role="lane", lane=2)
    with server.wire(hello(slip, 2)) as talk:
        talk.hear()
        assert server.client.post(f"/links/{slip['id']}/{how}", json={}, headers=TABLE).status_code == 200
        told = talk.hear()
        assert (told["code"], "taken back" in told["message"]) == ("link_ended", True)
        with pytest.raises(WebSocketDisconnect) as closed:
            talk.hear()
        assert closed.value.code == 1008
    with server.wire(hello(slip, 2)) as talk:
        assert talk.hear()["code"] == "link_ended"


@pytest.mark.parametrize(
    ("body", "found"),
    [
        ({"links": []}, "links"),
        ({"links": [{"role": "lane"}]}, "lane missing"),
        ({"links": [{"role": "table", "lane": 1}]}, "lane 1"),
        ({"links": [{"role": "owner"}]}, "role"),
        ({"links": [{"role": "desk", "days": 61}]}, "days"),
        ({"links": [{"role": "desk", "more": 1}]}, "more"),
        ({"links": [{"role": "desk", "label": "x" * 70_000}]}, "body"),
        ("no json", "links"),
    ],
)
def test_odd_wishes_are_named(server: Site, body: Any, found: str) -> None:
    """What is wrong with a request for links is answered with 400 and said; nothing is made."""
    before = len(server.live.crew.links.all())
    response = server.client.post("/links", json=body, headers=TABLE)
    assert response.status_code == 400
    assert found in response.json()["message"] or "found" in response.json()["message"]
    assert len(server.live.crew.links.all()) == before


def test_an_unknown_link_is_not_found(server: Site) -> None:
    """Taking back what is not there is 404."""
    assert server.client.post("/links/none/revoke", json={}, headers=TABLE).status_code == 404


def test_six_letters_become_a_link_once(server: Site) -> None:
    """The first to type the code of a slip gets a page and a key for the same lane.

    The second is told to ask for one.
    """
    slip = made(server, role="lane", lane=3)
    first = server.client.post("/links/code", json={"code": slip["code"].lower()}).json()
    assert first["path"] == "pad/?lane=3"
    with server.wire(text(type="hello", role="lane", lane=3, sender="lane-3-a", key=first["key"])) as talk:
        assert talk.hear()["type"] == "welcome"
    again = server.client.post("/links/code", json={"code": slip["code"]})
    assert (again.status_code, again.json()["code"]) == (404, "unknown_link")


def test_wrong_codes_are_limited(server: Site) -> None:
    """After ten wrong ones from an address even the right one is not looked at for a while: 429 with Retry-After."""
    [issued] = server.live.crew.links.issue([Wish(role="desk")])
    answers = [server.client.post("/links/code", json={"code": "BBBBBB"}).status_code for _ in range(11)]
    assert answers == [404] * 10 + [429]
    response = server.client.post("/links/code", json={"code": issued.code})
    assert (response.status_code, response.headers["retry-after"]) == (429, "60")


def test_right_codes_are_not_limited(server: Site) -> None:
    """A whole crew behind one proxy may type theirs one after the other."""
    issued = server.live.crew.links.issue([Wish(role="lane", lane=1)] * 15)
    answers = [server.client.post("/links/code", json={"code": each.code}).status_code for each in issued]
    assert answers == [200] * 15


def test_wrong_codes_are_counted_over_all_addresses() -> None:
    """Somebody with many addresses has twenty tries, then five a minute; memory is bounded."""
    limit, tried = CodeLimit(), 0
    for number in range(100_000):
        if limit.may_try(f"10.0.{number}", 0.0):
            limit.was_wrong(f"10.0.{number}", 0.0)
            tried += 1
    assert tried == 20
    assert not limit.may_try("fresh", 11.9)
    assert limit.may_try("fresh", 12.1)
