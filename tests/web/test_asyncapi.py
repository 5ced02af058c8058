"""The AsyncAPI description, held against the published schema, the models, and what the server really says."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator, Draft202012Validator

from core.samples import Pad
from tallywire.core.errors import SequenceGap, TallywireError
from tallywire.web.asyncapi import REPLIES, description
from tallywire.web.outlet_routes import FORMS
from tallywire.wire import replies
from tallywire.wire.messages import CLIENT_MESSAGES
from web.site import site
from web.test_outlet_routes import happen

SCHEMA = Path(__file__).parents[1] / "overlay/node_modules/@asyncapi/specs/schemas/3.0.0.json"
Data = dict[str, Any]


def referred(part: Any) -> list[str]:
    """Every reference in a description."""
    inner = part.values() if isinstance(part, dict) else part if isinstance(part, list) else []
    own = [part["$ref"]] if isinstance(part, dict) and "$ref" in part else []
    return own + [each for value in inner for each in referred(value)]


def found(data: Data, reference: str) -> Any:
    """What a reference inside the description leads to."""
    for step in reference.removeprefix("#/").split("/"):
        data = data[step]
    return data


def payload(name: str) -> Draft202012Validator:
    """What a message must be like."""
    data = description()
    return Draft202012Validator({**data["components"]["messages"][name]["payload"], "components": data["components"]})


def test_it_is_what_the_standard_asks_for() -> None:
    """The description keeps to AsyncAPI 3.0; one with an odd action does not.

    Source: the schema that the AsyncAPI Initiative publishes, @asyncapi/specs 6.11.1 from npm.
    """
    check = Draft7Validator(json.loads(SCHEMA.read_text(encoding="utf-8")))
    data = description()
    assert [error.message for error in check.iter_errors(data)] == []
    data["operations"]["hear"]["action"] = "listen"
    assert list(check.iter_errors(data))


def test_nothing_is_left_out() -> None:
    """It is served as made; every reference leads somewhere; every message of the models and every stream is in it."""
    with site() as server:
        assert server.client.get("/asyncapi.json").json() == description()
    data = description()
    assert all(found(data, each) for each in referred(data) if not each.startswith("#/$defs"))
    assert {"hello", "watch", "facts"} <= data["channels"]["wire"]["messages"].keys() == {*CLIENT_MESSAGES, *REPLIES}
    streams = {each["address"] for each in data["channels"].values()} - {"/wire", None}
    assert streams == {f"/v1/heats/{{heat}}/{{view}}/{form}" for form in FORMS if form.endswith("events")}


SAID = {
    "welcome": replies.welcome(role="viewer", mode="live", speed=1, known={}),
    "acknowledged": replies.acknowledged(sender="table-a", watermark=3, refused=[], tally=None),
    "gap": replies.gap(SequenceGap(expected=2, found=4)),
    "pong": replies.pong(t1=1.5, t2=2, t3=3),
    "error": replies.failed(TallywireError("found this, expected that")),
    "snapshot": replies.snapshot(replies.Stamp(view="heat", heat="h", number=1, unix_ms=2), epoch="e", frame={}),
    "patch": replies.patch(replies.Stamp(view="heat", heat="h", number=2, unix_ms=3), change={"a": None}),
    "storage": replies.storage(state="ok", key="disk_room", message="there is room"),
}


@pytest.mark.parametrize("name", REPLIES)
def test_what_is_said_is_as_described(name: str) -> None:
    """Each message of the server fits its description and no other message's."""
    said = json.loads(SAID[name])
    payload(name).validate(said)
    assert [other for other in REPLIES if payload(other).is_valid(said)] == [name]


def test_what_clients_say_is_described_by_its_model() -> None:
    """A hello and a watch fit; a field too many does not."""
    payload("hello").validate({"type": "hello", "role": "viewer"})
    payload("watch").validate({"type": "watch", "view": "heat"})
    assert not payload("watch").is_valid({"type": "watch", "view": "heat", "color": "red"})


def test_states_are_as_described() -> None:
    """A frame and its rows, as outlets hand them out, fit; a row with a column missing does not."""
    with site() as server:
        happen(server, Pad("starter").start(), Pad("lane-1-a", 1).reps(1000, n=3))
        frame = server.client.get("/v1/heats/heat/heat/frame.json").json()
        rows = server.client.get("/v1/heats/heat/heat/rows.json").json()
    payload("frame").validate(frame)
    payload("rows").validate(rows)
    del rows[0]["place"]
    assert not payload("rows").is_valid(rows)
