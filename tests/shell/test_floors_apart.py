"""Heats that run at the same time on several floors: what happens on one is seen, counted and missed there alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import count
from random import Random
from typing import Any

import pytest

from core.floors import NAMES, floors_apart
from core.samples import Pad, seeds
from shell.stage import START_UNIX_MS, frame_now, joined, journalled, live_on, recording, sent_now
from tallywire.core.errors import NotAllowed
from tallywire.core.facts import Fact, ViewTaken
from tallywire.core.fold.floor import floor_name
from tallywire.shell.clock import FakeClock
from tallywire.shell.fan_out import TICK_S
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.links import Issued, Links, Wish
from tallywire.shell.live import LiveCompetition
from tallywire.shell.read_model import VIEW_NAMES
from tallywire.wire.roles import ROLES
from wire.talk import facts, hello, text

DAY = ("heats", "floors")
"""What the table view says of every floor: which heats there are, and which are on."""


def floors(number: int) -> list[str]:
    """The ids of so many floors."""
    return [name.lower() for name in NAMES[:number]] if number > 1 else [""]


def happenings(number: int, random: Random) -> Iterator[tuple[str, Fact]]:
    """Starts of the first heat on every floor, then a mix of counts, calls to the second heat, ends and holds."""
    table, on = Pad("table-a"), dict.fromkeys(floors(number), 1)
    for floor in on:
        yield floor, replace(table.start(), heat=f"{floor}h1", unix_ms=START_UNIX_MS)
    for at_ms in count(1000, 700):
        floor = random.choice(list(on))
        table.lane, heat = random.choice((1, 2)), f"{floor}h{on[floor]}"
        kind = random.choice(("reps", "reps", "reps", "no_rep", "end", "call"))
        if kind == "call" and on[floor] == 1:
            on[floor], heat = 2, f"{floor}h2"
            yield floor, table.call(0, START_UNIX_MS + at_ms, heat=heat)
        elif kind == "end":
            yield floor, replace(table.end(at_ms), heat=heat)
        elif kind != "call":
            yield floor, replace(table.no_rep(at_ms) if kind == "no_rep" else table.reps(at_ms), heat=heat)


def shown(live: LiveCompetition, floor: str) -> dict[str, dict[str, Any]]:
    """Every view of the heat on a floor."""
    frames = {view: frame_now(live, view, floor_name(floor)) for view in VIEW_NAMES}
    frames["table"] = {name: value for name, value in frames["table"].items() if name not in DAY}
    return frames


@pytest.mark.parametrize("number", [1, 2, 3])
@pytest.mark.parametrize("seed", seeds(range(3), quick=1))
async def test_a_fact_on_one_floor_changes_no_view_of_another(number: int, seed: int) -> None:
    """Whatever happens on a floor, every view of the heats on the other floors stays as it was, and nobody who watches
    one of these is sent anything; the views of the floor itself follow."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    live = live_on(MemoryJournal(), clock=clock, work=floors_apart(number))
    moved = 0
    async with recording(live):
        table, _ = joined(live, hello("table-a"))
        ears = {
            floor: joined(live, text(type="watch", view="heat", heat=floor_name(floor)))[1] for floor in floors(number)
        }
        for _, (where, fact) in zip(range(25), happenings(number, Random(seed)), strict=False):
            before = {floor: shown(live, floor) for floor in ears}
            heard = {floor: len(ear.messages) for floor, ear in ears.items()}
            table.hear(facts(fact))
            await journalled(live)
            after = {floor: shown(live, floor) for floor in ears}
            moved += before.pop(where) != after.pop(where)
            assert before == after
            assert {floor: len(ears[floor].messages) for floor in before} == {floor: heard[floor] for floor in before}
            clock.jump(TICK_S)
            assert ears[where].shown() == sent_now(live, "heat", floor_name(where))
    live.close()
    assert moved >= 15


def lane_hello(live: LiveCompetition, floor: str, *, role: str = "lane", name: str = "a") -> str:
    """The hello of lane 1 of a floor, with a link of its own."""
    key = live.crew.links.issue([Wish(role=role, lane=1, floor=floor)])[0].key
    return text(type="hello", role=role, lane=1, floor=floor, key=key, sender=f"{role}-1-{floor}-{name}")


async def test_a_pad_counts_on_its_own_floor_alone() -> None:
    """Two pads of lane 1 on two floors: each counts in its heat, is refused in the other's, and sees its own lane."""
    live = live_on(MemoryJournal(), work=floors_apart(2))
    async with recording(live):
        east, told = joined(live, lane_hello(live, "east"))
        joined(live, lane_hello(live, "west"))
        pad = Pad("lane-1-east-a", 1)
        east.hear(facts(replace(pad.reps(1000), heat="easth1"), replace(pad.reps(2000), heat="westh1")))
        await journalled(live)
        [answer] = told.of_type("acknowledged")
        assert [(each["sequence"], each["code"]) for each in answer["refused"]] == [(2, "not_allowed")]
        assert "floor west, expected one on east" in answer["refused"][0]["message"]
        done = {heat: frame_now(live, "heat", heat)["lanes"]["1"]["done"] for heat in ("easth1", "westh1")}
        assert done == {"easth1": 1, "westh1": 0}
        for heat in ("westh1", "floor:west"):
            east.hear(text(type="watch", view="table", heat=heat))
            assert told.messages[-1]["code"] == "not_allowed"
        east.hear(text(type="watch", view="table", heat="floor:east"))
        assert list(told.shown("table")["lanes"]) == ["1"]
    live.close()


async def test_each_floor_sees_and_misses_its_own_pads() -> None:
    """The table of a floor is told of the devices on its lanes; a pad that is gone is missed on its own floor."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    live = live_on(MemoryJournal(), clock=clock, work=floors_apart(2))
    pad, transport = joined(live, lane_hello(live, "east"))
    assert [each["sender"] for each in frame_now(live, "table", "easth1")["pads"]["1"]["devices"]] == ["lane-1-east-a"]
    assert "pads" not in frame_now(live, "table", "westh1")
    pad.leave()
    transport.close()
    clock.jump(6)
    assert frame_now(live, "heat", "floor:east")["waiting_for_pad"] == [1]
    assert "waiting_for_pad" not in frame_now(live, "heat", "floor:west")
    live.close()


WRONG: dict[str, tuple[dict[str, str | None], str]] = {
    "no floor": ({"floor": None}, "found floor missing, expected one of east, west for lane pad"),
    "another floor": ({"floor": "west", "sender": "lane-1-west-a"}, "does not open role lane"),
    "an unknown floor": ({"floor": "pier", "sender": "lane-1-pier-a"}, "found floor pier, expected one of east, west"),
    "another name": ({"sender": "lane-1-a"}, "expected a name that begins with lane-1-east-"),
}


@pytest.mark.parametrize("case", WRONG)
async def test_a_lane_link_opens_its_floor_alone(case: str) -> None:
    """Where floors have names a pad says its own, and the link of one floor's lane does not open the other's."""
    live = live_on(MemoryJournal(), work=floors_apart(2))
    changes, expected = WRONG[case]
    good: dict[str, Any] = {"type": "hello", "role": "lane", "lane": 1, "floor": "east", "sender": "lane-1-east-a"}
    key = live.crew.links.issue([Wish(role="lane", lane=1, floor="east")])[0].key
    asked = {name: value for name, value in {**good, "key": key, **changes}.items() if value is not None}
    _, told = joined(live, text(**asked))
    assert told.messages[0]["type"] == "error"
    assert expected in told.messages[0]["message"]
    _, told = joined(live, text(**good, key=key))
    assert told.messages[0]["type"] == "welcome"
    live.close()


async def test_a_floor_is_none_where_floors_have_no_names() -> None:
    """With one floor nobody may name one: neither a pad, nor who watches."""
    live = live_on(MemoryJournal(), work=floors_apart(1))
    asked = text(type="hello", role="lane", lane=1, floor="east", key="key-1", sender="lane-1-east-a")
    _, told = joined(live, asked)
    assert told.messages[0]["message"] == "floor: found floor east, expected none for lane pad"
    _, told = joined(live, text(type="watch", view="heat", heat="floor:east"))
    assert told.messages[0]["message"] == 'heat: found "floor:east", expected floor or one of h1, h2'
    live.close()


async def test_a_follower_has_the_same_floors() -> None:
    """An edge or a standby server that takes the writer's lines has the same heat on each floor, and shows the same."""
    journal, clock = MemoryJournal(), FakeClock(unix_ms=START_UNIX_MS)
    writer = live_on(journal, clock=clock, work=floors_apart(2))
    follower = live_on(MemoryJournal(), clock=clock, work=floors_apart(2))
    watch = text(type="watch", view="heat", heat="floor:west")
    async with recording(writer):
        table, _ = joined(writer, hello("table-a"))
        _, there = joined(follower, watch)
        for _, (_, fact) in zip(range(12), happenings(2, Random(5)), strict=False):
            table.hear(facts(fact))
        await journalled(writer)
        follower.follow(list(journal.read()))
        clock.jump(TICK_S)
        assert follower.books.floors == writer.books.floors
        assert [shown(follower, each) for each in floors(2)] == [shown(writer, each) for each in floors(2)]
        assert there.shown() == sent_now(writer, "heat", "floor:west")
        assert there.shown()["heat"]["status"] != "waiting"
    writer.close()
    follower.close()


async def test_a_follower_that_is_cut_off_says_how_old_its_picture_is() -> None:
    """It says so of every floor without a line of the writer, and no more once it is back."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    follower = live_on(MemoryJournal(), clock=clock, work=floors_apart(2))
    watching = [joined(follower, text(type="watch", view="heat", heat=f"floor:{each}"))[1] for each in floors(2)]
    for behind_ms in (1500, None):
        follower.storage.behind_ms = behind_ms
        follower.follow(())
        clock.jump(TICK_S)
        assert [each.shown().get("behind_ms") for each in watching] == [behind_ms] * 2
    follower.close()


@pytest.mark.parametrize("seed", seeds(range(8), quick=2))
async def test_a_restart_has_the_same_floors(seed: int) -> None:
    """A correction on one floor, one taken back on the other, a view on one's output: killed at any moment and started
    again, the server shows the same of both floors, and no more than what was on programme is on it."""
    random, journal, clock = Random(seed), MemoryJournal(), FakeClock(unix_ms=START_UNIX_MS)
    first = live_on(journal, clock=clock, work=floors_apart(2))
    async with recording(first):
        table, _ = joined(first, hello("table-a"))
        desk, _ = joined(first, hello("desk-a"))
        other, _ = joined(first, hello("table-b"))
        for _, (_, fact) in zip(range(random.randint(4, 16)), happenings(2, random), strict=False):
            table.hear(facts(fact))
        mending = Pad("table-b", lane=1)
        corrected = [replace(mending.correct(20_000, 4), heat=heat) for heat in ("easth1", "westh1")]
        taken = ViewTaken(
            id="desk-a.1",
            heat="westh1",
            at_ms=0,
            sender="desk-a",
            sequence=1,
            unix_ms=START_UNIX_MS,
            output="west",
            view="heat",
            params={},
            by="operator",
        )
        for client, fact in ((other, corrected[0]), (other, corrected[1]), (desk, taken)):
            client.hear(facts(fact))
        other.hear(facts(replace(mending.void(20_500, corrected[0]), heat="easth1")))
        await journalled(first)
    again = live_on(journal, clock=clock, work=floors_apart(2))
    assert again.books.floors == first.books.floors
    assert [shown(again, each) for each in floors(2)] == [shown(first, each) for each in floors(2)]
    outputs = shown(again, "east")["show"]["outputs"]
    assert {name: each.get("programme", {}).get("id") for name, each in outputs.items()} == {
        "east": None,
        "west": taken.id,
    }
    assert frame_now(again, "heat", "westh1")["lanes"]["1"]["scored_reps"] == 4
    first.close()
    again.close()


def opens(links: Links, issued: Issued, lane: int | None, floor: str) -> bool:
    """Whether a machine's link opens a lane, or none, of a floor."""
    try:
        return links.authorise("machine", lane, issued.key, floor=floor) == issued.link.id
    except NotAllowed:
        return False


MACHINES = {
    "everything": (Wish(role="machine"), {(lane, floor) for lane in (None, 1) for floor in ("", "east", "west")}),
    "a floor": (Wish(role="machine", floor="east"), {(None, "east"), (1, "east")}),
    "a lane": (Wish(role="machine", lane=1, floor="east"), {(1, "east")}),
}


@pytest.mark.parametrize("case", MACHINES)
def test_a_machine_link_is_for_a_lane_a_floor_or_everything(case: str) -> None:
    """One for a floor opens that floor, one without a floor opens every one, and one for a lane its lane there."""
    wish, expected = MACHINES[case]
    links = Links(now_ms=lambda: START_UNIX_MS)
    [issued] = links.issue([wish])
    tried = {(lane, floor) for lane in (None, 1) for floor in ("", "east", "west") if opens(links, issued, lane, floor)}
    assert tried == expected


def test_a_link_keeps_its_floor() -> None:
    """Renewed, or made by six letters, a link is for the same lane of the same floor; people read the floor's name."""
    links = Links(now_ms=lambda: START_UNIX_MS)
    [issued] = links.issue([Wish(role="lane", lane=1, floor="east")])
    redeemed = links.redeem(issued.code)
    renewed, _ = links.renew(issued.link.id)
    assert redeemed is not None
    for each in (redeemed, renewed):
        assert (each.link.lane, each.link.floor, each.link.path) == (1, "east", "pad/?lane=1&floor=east")
        assert each.link.title(floors_apart(2).floors) == "lane pad 1, East"


PATHS = {
    ("lane", 4): "pad/?lane=4&floor=east",
    ("backup", 4): "pad/?lane=4&role=backup&floor=east",
    ("table", None): "table/?floor=east",
    ("head", None): "table/?role=head&floor=east",
    ("commentator", None): "call/?floor=east",
    ("display", None): "board/?floor=east",
    ("machine", 4): "",
}


@pytest.mark.parametrize(("role", "lane"), PATHS)
def test_a_page_opens_on_its_floor(role: str, lane: int | None) -> None:
    """The address of a role's page names the floor of its link, and nothing of it where floors have no names."""
    assert ROLES[role].path(lane, "east") == PATHS[role, lane]
    assert ROLES[role].path(lane) == PATHS[role, lane].replace("&floor=east", "").replace("?floor=east", "")


def test_a_desk_works_every_floor() -> None:
    """No link of a graphics desk is for one floor: its outputs are."""
    assert (
        ROLES["desk"].floor_fault(None, "east", ("east", "west")) == "found floor east, expected none for graphics desk"
    )
