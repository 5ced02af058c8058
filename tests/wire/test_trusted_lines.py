"""Facts from our own journal, made fast: the same facts, as frozen as any other."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, fields, replace

import orjson
import pytest

from tallywire.core.facts import FACT_TYPES, Fact, wire_name
from tallywire.wire.fact_lines import fact_line
from tallywire.wire.trusted_lines import trusted_fact, trusted_facts


def whole(kind: type[Fact], *, defaults: bool) -> Fact:
    """A fact of a kind with a value in every field, or in those without a default."""
    samples = {"int": 7, "int | None": 2, "str": "x", "str | None": "y", "bool": True}
    samples |= {"Mapping[str, str]": {"who": "4"}, "Sequence[Mapping[str, str]]": [{"view": "heat"}]}
    optional = {each.name for each in fields(kind) if each.default is not each.default_factory}
    values = {each.name: samples[str(each.type)] for each in fields(kind) if defaults or each.name not in optional}
    return kind(**values)  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", FACT_TYPES, ids=wire_name)
@pytest.mark.parametrize("defaults", [False, True])
def test_it_is_the_fact_that_was_written(kind: type[Fact], defaults: bool) -> None:
    """Every kind, with and without the fields that may be left out: equal, of its class, and not to be changed."""
    fact = whole(kind, defaults=defaults)
    made = trusted_fact(fact_line(fact))
    assert made == fact
    assert type(made) is kind
    assert replace(made, at_ms=8) == replace(fact, at_ms=8)
    with pytest.raises(FrozenInstanceError):
        made.at_ms = 9  # type: ignore[misc]


def test_many_lines_become_facts_in_their_order() -> None:
    """A whole journal at once gives what line by line gives; an empty one gives nothing."""
    lines = [fact_line(whole(kind, defaults=True)) for kind in FACT_TYPES]
    assert trusted_facts(lines) == [trusted_fact(line) for line in lines]
    assert trusted_facts([]) == []


def test_a_line_that_is_no_fact_is_an_error() -> None:
    """What was never checked in is not taken: an unknown kind, or a field that is missing."""
    with pytest.raises(KeyError):
        trusted_fact(orjson.dumps({"fact": "rep_conted"}))
    with pytest.raises(KeyError):
        trusted_fact(orjson.dumps({"fact": "finished", "id": "a"}))
