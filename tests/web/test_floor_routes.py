"""Several floors over HTTP: health, snapshots, links and addresses each name their floor."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from core.floors import floors_apart
from core.samples import Pad
from tallywire.wire.fact_lines import fact_data
from web.site import Site, site
from wire.talk import text

TABLE = {"Authorization": "Bearer table-key"}


@pytest.fixture(name="server", scope="module")
def _server() -> Iterator[Site]:
    with site(called=floors_apart(2)) as made:
        yield made


def made(server: Site, **wish: Any) -> tuple[int, dict[str, Any]]:
    """Ask for one link: the status, and its slip or what is wrong."""
    answer = server.client.post("/links", json={"links": [wish]}, headers=TABLE)
    said: dict[str, Any] = answer.json()
    return answer.status_code, said["slips"][0] if answer.status_code == 200 else said


def test_health_names_the_heat_on_each_floor(server: Site) -> None:
    """Beside the heat of the first floor it has every floor with its name and heat."""
    health = server.client.get("/health").json()
    assert health["heat"] == "easth1"
    assert health["floors"] == {
        "east": {"name": "East", "heat": "easth1"},
        "west": {"name": "West", "heat": "westh1"},
    }
    assert health["outputs"] == ["east", "west"]


@pytest.mark.parametrize(
    ("asked", "heat"),
    [("", "easth1"), ("?heat=floor", "easth1"), ("?heat=floor:east", "easth1"), ("?heat=floor:west", "westh1")],
)
def test_a_snapshot_is_of_the_floor_that_is_asked_for(server: Site, asked: str, heat: str) -> None:
    """Without a name it is that of the first floor; an unknown one is 404."""
    frame = server.client.get(f"/snapshot/heat{asked}").json()["frame"]
    assert (frame["heat"]["id"], frame["heat"]["floor"]["id"]) == (heat, heat[:4])
    answer = server.client.get("/snapshot/heat?heat=floor:pier")
    assert answer.status_code == 404
    assert answer.json()["message"] == (
        'heat: found "floor:pier", expected floor, floor:east, floor:west or one of easth1, easth2, westh1, westh2'
    )


@pytest.mark.parametrize(
    ("wish", "path", "title"),
    [
        ({"role": "lane", "lane": 2, "floor": "west"}, "pad/?lane=2&floor=west", "lane pad 2, West"),
        (
            {"role": "backup", "lane": 1, "floor": "east"},
            "pad/?lane=1&role=backup&floor=east",
            "backup counter 1, East",
        ),
        ({"role": "table"}, "table/", "scoring table"),
        ({"role": "head", "floor": "west"}, "table/?role=head&floor=west", "head judge, West"),
        ({"role": "display", "floor": "west"}, "board/?floor=west", "display, West"),
    ],
)
def test_a_slip_and_its_letters_open_the_page_of_the_floor(
    server: Site, wish: dict[str, Any], path: str, title: str
) -> None:
    """Its address, its title, and what six letters open, are of that lane and that floor; so is the list of links."""
    _, slip = made(server, **wish)
    assert slip["url"].startswith(f"http://testserver/{path}#key=")
    assert slip["title"] == title
    opened = server.client.post("/links/code", json={"code": slip["code"]}).json()
    assert (opened["path"], opened["title"]) == (path, title)
    listed = server.client.get("/links", headers=TABLE).json()
    [row] = [each for each in listed["links"] if each["id"] == slip["id"]]
    assert (row["title"], row.get("floor")) == (title, wish.get("floor"))
    assert [(each["id"], each["lanes"]) for each in listed["floors"]] == [("east", [1, 2]), ("west", [1, 2])]


@pytest.mark.parametrize(
    "wish",
    [
        {"role": "lane", "lane": 1},
        {"role": "lane", "lane": 1, "floor": "pier"},
        {"role": "desk", "floor": "east"},
        {"role": "machine", "lane": 1},
    ],
)
def test_a_link_without_its_floor_is_not_made(server: Site, wish: dict[str, Any]) -> None:
    """A lane needs a floor that is there, and a desk has none: 400, and no link is made."""
    before = len(server.live.crew.links.all())
    status, said = made(server, **wish)
    assert (status, said["code"]) == (400, "bad_message")
    assert len(server.live.crew.links.all()) == before


def test_a_machine_of_a_floor_counts_there_alone(server: Site) -> None:
    """Its batch is taken in its floor's heat and refused in that of the other floor."""
    _, slip = made(server, role="machine", floor="east")
    key, pad = slip["url"].partition("#key=")[2], Pad("machine-mat", 1)
    lines = [fact_data(pad.reps(1000)) | {"heat": heat} for heat in ("easth1", "westh1")]
    lines[1] |= {"id": "machine-mat.2", "sequence": 2}
    body = {"sender": "machine-mat", "facts": lines}
    answer = server.client.post("/facts", json=body, headers={"Authorization": f"Bearer {key}"}).json()
    assert [each["sequence"] for each in answer["refused"]] == [2]
    assert server.client.get("/snapshot/heat?heat=floor:east").json()["frame"]["lanes"]["1"]["done"] == 1
    assert server.client.get("/snapshot/heat?heat=floor:west").json()["frame"]["lanes"]["1"]["done"] == 0


def test_a_lanes_key_opens_the_table_of_its_own_floor(server: Site) -> None:
    """By HTTP as on the wire: its own lane there, and 401 for a heat of the other floor."""
    _, slip = made(server, role="lane", lane=1, floor="east")
    headers = {"Authorization": f"Bearer {slip['url'].partition('#key=')[2]}"}
    own = server.client.get("/snapshot/table?heat=floor:east", headers=headers)
    assert list(own.json()["frame"]["lanes"]) == ["1"]
    assert server.client.get("/snapshot/table?heat=floor:west", headers=headers).status_code == 401


def test_a_pads_hello_names_its_floor(server: Site) -> None:
    """The key of a slip opens its lane on its floor, under a name that has both."""
    _, slip = made(server, role="lane", lane=1, floor="west")
    key = slip["url"].partition("#key=")[2]
    hello = text(type="hello", role="lane", lane=1, floor="west", sender="lane-1-west-a", key=key)
    with server.wire(hello) as talk:
        assert talk.hear()["type"] == "welcome"


ADDRESSES = {
    "/pad/?lane=1": "It names no floor.",
    "/pad/?floor=east": "It names no lane. East has lanes 1, 2.",
    "/pad/?lane=7&floor=west": "It names lane &quot;7&quot;. West has lanes 1, 2.",
    "/board/?floor=pier": "It names floor &quot;pier&quot;, which this competition does not have.",
    "/table/?heat=floor:pier": "It names heat &quot;floor:pier&quot;, which this competition does not have.",
    "/board/?floor=west": "",
    "/pad/?lane=1&floor=west": "",
    "/call/?heat=floor:west": "",
}


@pytest.mark.parametrize("address", ADDRESSES)
def test_a_wrong_floor_in_an_address_is_told(server: Site, address: str) -> None:
    """The page says what is wrong with the address; one that names its floor is the page itself."""
    answer = server.client.get(address)
    wrong = ADDRESSES[address]
    assert answer.status_code == (404 if wrong else 200)
    assert wrong in answer.text
