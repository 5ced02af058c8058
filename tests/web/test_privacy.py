"""What of a person is kept, and who sees it: a table of roles and views, tried over the wire and over HTTP."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from typing import Any

import orjson
import pytest

from core.samples import HEAT
from shell.stage import two_heats
from tallywire.core.facts import FACT_TYPES, wire_name
from tallywire.shell.read_model import VIEW_NAMES
from tallywire.wire.competition_file import read_competition
from tallywire.wire.competition_schema import EntryTable
from tallywire.wire.fact_lines import models
from web.site import Site, site
from web.test_roles import COLUMNS, TABLE, YES, Asker

WHY = "strained-left-knee"
"""A reason in words, as somebody at the table might type it: not for the air, and not for other lanes."""
SEES_REASONS = {("table", "table"), ("head", "table")}
"""Roles and views in which a reason may stand."""
KINDS_WITH_REASON = {
    "no_rep_called",
    "count_corrected",
    "attempt_failed",
    "withdrawn",
    "disqualified",
    "penalty_given",
    "points_deducted",
    "appeal_decided",
    "fact_voided",
    "heat_recalled",
}
ABOUT: dict[str, dict[str, Any]] = {
    "fact_voided": {"voids": "nobody.1"},
    "heat_recalled": {"recalls": "nobody.1", "unix_ms": 1},
}
"""What these are about; the others are about a lane."""


@pytest.fixture(name="server")
def _server() -> Iterator[Site]:
    """A heat in which lanes 1 and 2 are on medical hold, and everything that has a reason has one."""
    with site(called=two_heats()) as made, ExitStack() as stack:
        table = Asker(made, "table", stack)
        for lane in (1, 2):
            assert table.send("hold_placed", lane=lane)
        for kind in sorted(KINDS_WITH_REASON):
            assert table.send(kind, reason=WHY, **ABOUT.get(kind, {"lane": 2})), kind
        yield made


def _frame_over_wire(server: Site, asker: Asker, view: str) -> dict[str, Any]:
    hello = asker._hello()
    with server.wire(hello | ({"sender": f"{asker.sender}w"} if "sender" in hello else {})) as talk:
        assert talk.hear()["type"] == "welcome"
        talk.say({"type": "watch", "view": view, "heat": HEAT})
        return talk.hear()


def _frame_over_http(server: Site, asker: Asker, view: str) -> dict[str, Any]:
    headers = {"Authorization": f"Bearer {asker.key}"} if asker.key else {}
    answer = server.client.get(f"/snapshot/{view}?heat={HEAT}", headers=headers)
    data: dict[str, Any] = answer.json()
    return data


@pytest.mark.parametrize("column", COLUMNS)
def test_reasons_are_between_table_and_head_judge(server: Site, column: str) -> None:
    """In no view and in no role but these two is a word of why, neither over the wire nor over HTTP."""
    with ExitStack() as stack:
        asker = Asker(server, column, stack)
        for view in VIEW_NAMES:
            answers = [_frame_over_http(server, asker, view)]
            if column != "owner":
                answers.append(_frame_over_wire(server, asker, view))
            for answer in answers:
                seen = WHY in orjson.dumps(answer).decode()
                assert seen == ((column, view) in SEES_REASONS), (view, answer)


def test_a_hold_has_no_reason_at_all(server: Site) -> None:
    """A hold says which lane and no more: one that brings a reason is refused, and what is on record has none."""
    assert {wire_name(kind) for kind in FACT_TYPES if "reason" in models()[wire_name(kind)].model_fields} == (
        KINDS_WITH_REASON
    )
    with ExitStack() as stack:
        assert not Asker(server, "head", stack).send("hold_placed", lane=3, reason=WHY)
    holds = [line for line in server.journal.read() if b'"hold_placed"' in line.body and line.refusal is None]
    assert len(holds) == 2
    assert not [line for line in holds if b"reason" in line.body]


@pytest.mark.parametrize("way", [_frame_over_wire, _frame_over_http], ids=["wire", "http"])
def test_a_lanes_link_sees_its_own_lane_alone(server: Site, way: Any) -> None:
    """In the table view a lane's link has its own lane, its own hold, and nothing of the other that is held."""
    with ExitStack() as stack:
        asker, table = Asker(server, "lane", stack), Asker(server, "table", stack)
        own, whole = (way(server, each, "table")["frame"] for each in (asker, table))
    assert list(own["lanes"]) == ["1"]
    assert own["lanes"]["1"]["held"] is True
    assert "penalties" not in own["lanes"]["1"]
    assert own["order"] in ([], [1])
    assert list(own["result"]) == ["stage"]
    assert {number for number, lane in whole["lanes"].items() if lane["held"]} == {"1", "2"}
    assert own["view"] == whole["view"] == "table"


def test_a_lanes_link_is_not_told_of_another_lanes_hold(server: Site) -> None:
    """When a third lane is put on hold nothing is sent to lane 1; its own release is the next it hears."""
    with ExitStack() as stack:
        pad, table = Asker(server, "lane", stack), Asker(server, "table", stack)
        table.sender, table.sequence = "table-b", 0
        pad.talk.say({"type": "watch", "view": "table", "heat": HEAT})
        assert pad.talk.hear()["type"] == "snapshot"
        assert table.send("hold_placed", id="b.1", lane=3)
        assert table.send("hold_released", id="b.2", lane=1)
        message = pad.talk.hear()
        assert (message["type"], message["view"], message["number"]) == ("patch", "table", 2)
        assert list(message["patch"]) == ["lanes"]
        assert message["patch"]["lanes"] == {"1": {"held": False}}


def test_nobody_asks_for_another_lanes_part(server: Site) -> None:
    """A client may not use the name by which the server keeps a lane's part of a view."""
    with ExitStack() as stack:
        pad = Asker(server, "lane", stack)
        assert pad.answer({"type": "watch", "view": "table/2", "heat": HEAT})["code"] == "bad_message"
    assert server.client.get("/snapshot/table/2").status_code == 404


def test_the_journal_goes_to_table_and_owner_alone(server: Site) -> None:
    """The recording has reasons, for the record: of all roles the table and the machine itself can fetch it."""
    with ExitStack() as stack:
        for column in COLUMNS:
            asker = Asker(server, column, stack)
            headers = {"Authorization": f"Bearer {asker.key}"} if asker.key else {}
            answer = server.client.get("/recording", headers=headers)
            assert (WHY in answer.text) == (column in ("table", "owner")) == (TABLE["GET /recording"][column] == YES)


COMPETITION = """
[competition]
name = "Practice Trials"
[[division]]
id = "open"
name = "Open"
[[points]]
id = "table"
places = [100, 90]
[[entry]]
id = "a"
name = "Asta Norwood"
short = "Norwood"
home = "Tidewater Hall"
division = "open"
points_before = 12345
[[event]]
id = "long"
name = "Long Count"
[event.workout]
format = "for_time"
time_cap = "60:00"
[[event.workout.station]]
movement = "Step-over"
amount = 10
[[heat]]
id = "h1"
name = "Heat 1"
event = "long"
lanes = { 1 = "a" }
"""
ON_AIR = {"name": "Asta Norwood", "short": "Norwood", "home": "Tidewater Hall", "points_before": "12345"}
"""Fields that are about a person, each with what the pictures show of it."""
BOOTH_ALONE = {"say", "ipa", "age_class", "facts", "caution"}
"""Fields for the commentators, which no view but the booth's has: the tests of the booth try each."""
OTHER_FIELDS = {"id", "division", "left_after"}
"""Fields that say where an entry stands in the competition."""


def _no_file(name: str) -> bytes:
    raise FileNotFoundError(name)


def test_no_more_is_kept_of_a_person_than_goes_on_air() -> None:
    """An entry's fields are those that pictures show, each of them in a frame, those that place it, and the booth's."""
    assert set(EntryTable.model_fields) == set(ON_AIR) | OTHER_FIELDS | BOOTH_ALONE
    with site(called=read_competition("practice.toml", COMPETITION, _no_file)) as server:
        shown = "".join(server.client.get(f"/snapshot/{view}").text for view in VIEW_NAMES)
    assert {name for name, value in ON_AIR.items() if value not in shown} == set()
