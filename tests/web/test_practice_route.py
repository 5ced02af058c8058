"""A lane to practise on: the same for everybody, bounded, and nothing of it comes near the journal or the books."""

from __future__ import annotations

from collections.abc import Iterator

import orjson
import pytest

from shell.rehearsed import SCENARIOS
from tallywire.core.facts import RepCounted
from tallywire.shell.files import load_competition
from tallywire.web.practice_route import SEED_MOST
from web.site import Site, site
from wire.talk import facts, hello

ESTUARY = load_competition(SCENARIOS / "estuary.toml")


@pytest.fixture(name="server")
def _server() -> Iterator[Site]:
    with site(called=ESTUARY) as made:
        yield made


def test_a_seed_is_the_same_lane_for_everybody(server: Site) -> None:
    """The same heat, lane and seed give the same bytes, with any key or none; another seed gives another truth."""
    asked = "/practice?heat=chipper&lane=1&seed=7"
    first = server.client.get(asked)
    table = server.client.get(asked, headers={"Authorization": "Bearer table-key"})
    assert (first.status_code, first.content) == (200, table.content)
    assert first.json()["truth"] != server.client.get("/practice?heat=chipper&lane=1&seed=8").json()["truth"]
    for seed in range(40):
        server.client.get(f"/practice?heat=chipper&seed={seed}")
    assert server.client.get(asked).content == first.content


@pytest.mark.parametrize("heat", [heat.id for heat in ESTUARY.heats.values() if heat.lanes])
def test_every_format_has_a_lane_of_nobody(server: Site, heat: str) -> None:
    """The frame is the lane's pad before the start, without a name, and the truth is in order and within the cap."""
    made = server.client.get(f"/practice?heat={heat}").json()
    frame, truth = made["frame"], made["truth"]
    (lane,) = frame["lanes"].values()
    assert (frame["heat"]["status"], frame["open"], frame["order"]) == ("waiting", True, [lane["lane"]])
    assert (lane["name"], lane["entry"], lane["done"], lane["no_reps"]) == ("", "", 0, 0)
    names = {entry.name for entry in ESTUARY.entries.values()}
    assert not [name for name in names if name.encode() in orjson.dumps(made)]
    times = [each["at_ms"] for each in truth]
    assert times and times == sorted(times) and times[-1] <= frame["clock"]["cap_ms"]
    assert {row["id"] for row in made["heats"]} == {each.id for each in ESTUARY.heats.values() if each.lanes}


@pytest.mark.parametrize(
    ("asked", "status", "said"),
    [
        ("heat=weather", 404, 'found heat "weather", expected one of the competition with lanes'),
        ("heat=chipper&lane=99", 404, 'found lane "99", expected one of 1, 2'),
        ("heat=chipper&lane=-1", 404, "expected one of 1, 2"),
        ("heat=chipper&seed=1000000", 400, f"expected a whole number from 0 to {SEED_MOST}"),
        ("heat=chipper&seed=-1", 400, "expected a whole number"),
        ("heat=chipper&seed=%D9%A1", 400, "expected a whole number"),
        ("heat=chipper&seed=", 400, "expected a whole number"),
    ],
)
def test_what_is_not_there_is_refused_in_words(server: Site, asked: str, status: int, said: str) -> None:
    """A heat, a lane or a seed that cannot be is named, with what was expected."""
    answer = server.client.get(f"/practice?{asked}")
    assert answer.status_code == status
    assert said in answer.json()["message"]


def test_nothing_of_it_reaches_the_journal_or_the_fold(server: Site) -> None:
    """Two hundred lanes asked for, and all truths as facts would look: journal, books and every frame stay the same."""
    rep = RepCounted(id="a.1", heat="chipper", at_ms=1000, lane=1, sender="lane-1-a", sequence=1)
    with server.wire(hello("lane-1-a"), facts(rep)) as talk:
        talk.hear_until("acknowledged")
    before = _all_of(server)
    for seed in range(25):
        for heat in (each.id for each in ESTUARY.heats.values() if each.lanes):
            assert server.client.get(f"/practice?heat={heat}&seed={seed}").status_code == 200
    assert server.client.post("/practice?heat=chipper", content=b"{}").status_code == 405
    assert before[1] == 1
    assert _all_of(server) == before


def _all_of(server: Site) -> tuple[object, ...]:
    """The journal, and what the books show of every heat, apart from when it was asked."""
    snapshot = server.live.books.snapshot()
    heats = {name: (heat.facts, heat.state) for name, heat in snapshot.heats.items()}
    return [line.body for line in server.journal.read()], server.live.lines, repr(heats)
