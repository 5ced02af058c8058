"""Facts of a machine source in one HTTP request: taken once, numbered as on the wire, for its own lane."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from core.samples import Pad
from tallywire.shell.links import Wish
from tallywire.wire.fact_lines import fact_data
from web.site import Site, site

SENDER = "machine-mat"


@pytest.fixture(name="server")
def _server() -> Iterator[Site]:
    with site() as made:
        yield made


def send(server: Site, lane: int | None, *facts: dict[str, Any], sender: str = SENDER) -> tuple[int, dict[str, Any]]:
    """Send facts with a new link of a machine; give the status and the answer."""
    key = server.live.crew.links.issue([Wish(role="machine", lane=lane)])[0].key
    headers = {"Authorization": f"Bearer {key}"}
    answer = server.client.post("/facts", headers=headers, json={"sender": sender, "facts": list(facts)})
    return answer.status_code, answer.json()


def reps(count: int, lane: int = 1) -> list[dict[str, Any]]:
    """So many reps of a machine on a lane."""
    pad = Pad(SENDER, lane)
    return [fact_data(pad.reps(1000 * number)) for number in range(1, count + 1)]


def test_a_batch_is_taken_once(server: Site) -> None:
    """It is on disk when it is answered, and the same batch again changes nothing."""
    for _ in range(2):
        assert send(server, 1, *reps(2)) == (
            200,
            {"type": "acknowledged", "sender": SENDER, "watermark": 2, "refused": []},
        )
    assert server.live.lines == 2
    assert server.client.get("/snapshot/heat").json()["frame"]["lanes"]["1"]["done"] == 2


def test_what_cannot_be_taken_is_said(server: Site) -> None:
    """Missing numbers, another lane, another's name, and no facts at all: each with what was expected."""
    status, said = send(server, 1, *reps(3)[2:])
    assert (status, said["code"], said["expected"], said["found"]) == (409, "sequence_gap", 1, 3)
    status, said = send(server, 2, *reps(1))
    assert (status, said["watermark"]) == (200, 1)
    assert "expected lane 2" in said["refused"][0]["message"]
    assert send(server, 1, *reps(1), sender="lane-1-a")[0] == 400
    assert send(server, 1)[0] == 400
    assert server.client.post("/facts", json={"sender": SENDER, "facts": reps(1)}).status_code == 401
