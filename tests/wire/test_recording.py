"""Facts and recordings as JSON lines."""

from __future__ import annotations

from typing import Any

import jsonschema
import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.samples import Script, deliveries, scripts
from tallywire.core.errors import BadFile, BadMessage
from tallywire.core.facts import FactVoided, RepCounted
from tallywire.wire.fact_lines import BY_NAME, fact_data, fact_line, facts_schema, read_fact
from tallywire.wire.recording import read_recording, recording_line
from tallywire.wire.trusted_lines import trusted_fact

REP: dict[str, Any] = {
    "fact": "rep_counted",
    "id": "lane-3-a.1",
    "heat": "h1",
    "at_ms": 1500,
    "sender": "lane-3-a",
    "sequence": 1,
    "lane": 3,
}


VALIDATOR = jsonschema.Draft202012Validator(facts_schema())


def test_a_fact_is_read() -> None:
    """A line becomes the fact it names; left-out fields take their defaults."""
    expected = RepCounted(id="lane-3-a.1", heat="h1", at_ms=1500, sender="lane-3-a", sequence=1, lane=3, n=1)
    assert read_fact(REP) == expected
    assert orjson.loads(fact_line(expected)) == REP


@given(st.data(), scripts())
def test_every_fact_survives_the_round_trip(data: st.DataObject, script: Script) -> None:
    """Written and read again, checked or trusted, a fact is the same, and the printed JSON Schema accepts it."""
    for fact in data.draw(deliveries(script)):
        assert read_fact(orjson.loads(fact_line(fact))) == fact
        assert trusted_fact(fact_line(fact)) == fact
        assert VALIDATOR.is_valid(fact_data(fact))


def test_the_schema_names_every_kind() -> None:
    """The schema of a recording is valid and has every kind of fact."""
    schema = facts_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert set(schema["discriminator"]["mapping"]) == set(BY_NAME)


@pytest.mark.parametrize(
    "change",
    [
        {"at_ms": 0},
        {"at_ms": 30 * 24 * 3_600_000},
        {"lane": 99},
        {"n": 1000},
        {"sequence": 9_007_199_254_740_991},
        {"uncertain_ms": 0},
        {"uncertain_ms": 24 * 3_600_000},
    ],
)
def test_the_first_and_the_last_value_of_a_range_are_right(change: dict[str, Any]) -> None:
    """A fact may be made at 0, on lane 99, and be sure of its time."""
    ((name, value),) = change.items()
    assert getattr(read_fact(REP | change), name) == value


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"fact": "rep_conted"}, 'fact: found "rep_conted", expected one of heat_called, heat_started'),
        ({"fact": 7}, "fact: found 7, expected one of"),
        ({"lane": 0}, "lane: found 0, expected at least 1"),
        ({"lane": True}, "lane: found True, expected a whole number"),
        ({"at_ms": "1500"}, 'at_ms: found "1500", expected a whole number'),
        ({"at_ms": -1}, "at_ms: found -1, expected at least 0"),
        ({"sequence": 0}, "sequence: found 0"),
        ({"n": 1001}, "n: found 1001"),
        ({"id": "a b"}, 'id: found "a b"'),
        ({"id": "x" * 65}, "id: found"),
        ({"extra": 1}, "extra: found an unknown field with 1"),
    ],
)
def test_a_wrong_fact_is_refused_by_name(change: dict[str, Any], message: str) -> None:
    """What was found, what was expected and where stands in the error."""
    with pytest.raises(BadMessage) as caught:
        read_fact(REP | change)
    assert message in str(caught.value)


@pytest.mark.parametrize("data", [None, 5, "x", [REP]])
def test_what_is_no_object_is_no_fact(data: object) -> None:
    """Anything but an object is refused."""
    with pytest.raises(BadMessage, match="expected a fact"):
        read_fact(data)


def test_a_recording_names_every_wrong_line() -> None:
    """All wrong lines of a recording are reported at once, with their numbers."""
    good = orjson.dumps(REP)
    text = b"\n".join([good, b"{", b"", orjson.dumps(REP | {"lane": 0}), b"[]"])
    with pytest.raises(BadFile) as caught:
        read_recording("r.ndjson", text)
    assert [problem.path for problem in caught.value.problems] == ["line 2", "line 4", "line 5"]
    assert "lane: found 0" in str(caught.value)


def test_an_empty_recording_is_a_problem() -> None:
    """A recording without a fact is refused."""
    with pytest.raises(BadFile, match="no facts"):
        read_recording("r.ndjson", b"\n\n")


def test_refused_lines_are_kept_and_passed_over() -> None:
    """A refused fact is written with its refusal, and reading passes it over."""
    good = orjson.dumps(REP)
    refused = recording_line(orjson.dumps(REP | {"lane": 77}), orjson.dumps({"code": "fact_refused"}))
    unread = recording_line(b"[1", orjson.dumps({"code": "bad_message"}))
    assert orjson.loads(refused)["refused"] == {"code": "fact_refused"}
    assert orjson.loads(unread)["unread"] == "[1"
    assert len(read_recording("r.ndjson", recording_line(good, None) + refused + unread)) == 1


def test_a_void_names_its_lane_or_none() -> None:
    """A void of a heat fact has no lane."""
    void = read_fact({**{k: v for k, v in REP.items() if k != "lane"}, "fact": "fact_voided", "voids": "x.1"})
    assert isinstance(void, FactVoided)
    assert void.lane is None
