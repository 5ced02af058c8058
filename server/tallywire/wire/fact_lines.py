"""Facts as JSON: one object, one line. The rules for every field stand here once, for reading and for the schema."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields
from functools import cache, reduce
from operator import or_
from typing import Annotated, Any, Literal, get_type_hints

import orjson
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, TypeAdapter, ValidationError, create_model

from tallywire.core.errors import BadMessage
from tallywire.core.facts import FACT_TYPES, Fact, wire_name
from tallywire.core.model.outputs import DELAY_MOST_MS, RUNDOWN_MOST
from tallywire.formats.table_base import not_blank, shown_in_full
from tallywire.wire.problems import problems_of, shown

BY_NAME: Mapping[str, type[Fact]] = {wire_name(kind): kind for kind in FACT_TYPES}
_REQUIRED = object()
FIELDS_LIMIT = 24
"""No fact has half as many: each that is unknown would be a line of the refusal."""
_DEFAULTS: Mapping[type[Fact], list[tuple[str, object]]] = {
    kind: [(each.name, _REQUIRED if each.default is MISSING else each.default) for each in fields(kind)]
    for kind in FACT_TYPES
}
_NAMES: Mapping[type[Fact], str] = {kind: name for name, kind in BY_NAME.items()}

NOTE_MOST = 160
"""Letters of a note: what a commentator reads in a glance."""
_DAY_MS = 24 * 60 * 60 * 1000
_ID = r"^[A-Za-z0-9][A-Za-z0-9._:-]{0,63}$"
_ITEM = r"^[A-Za-z0-9][A-Za-z0-9._:-]{0,63}(/[1-9])?$"
_FIELD_RULES: Mapping[str, Any] = {
    "id": Field(pattern=_ID, description="made by the sender; the same id twice is the same fact"),
    "heat": Field(pattern=_ID, description="the id of the heat in the competition file"),
    "at_ms": Field(ge=0, le=30 * _DAY_MS, description="time on the heat clock in milliseconds"),
    "sender": Field(pattern=_ID, description="who sent it"),
    "sequence": Field(ge=1, le=2**53 - 1, description="the sender's own number, 1, 2, 3 …"),
    "uncertain_ms": Field(ge=0, le=_DAY_MS, description="how far off the time can be, by the sender's clock"),
    "start": Field(pattern=_ID, description="the id of the start by whose clock the time was told"),
    "recalls": Field(pattern=_ID, description="the id of the false start"),
    "lane": Field(ge=1, le=99, description="the lane"),
    "unix_ms": Field(
        ge=0,
        le=2**53 - 1,
        description="wall time (Unix, milliseconds): of the heat clock at at_ms, or of a fact beside the counts",
    ),
    "n": Field(ge=1, le=1000, description="how many units of the station were done"),
    "scored_reps": Field(ge=0, le=1_000_000, description="the cumulative number from this moment on"),
    "reason": Field(max_length=200, description="why, in words"),
    "member": Field(ge=1, le=20, description="which member of the team, counted from 1"),
    "load_milli": Field(ge=1, le=2_000_000, description="load in thousandths of the workout's unit"),
    "reps": Field(ge=0, le=10_000, description="repetitions taken from the count"),
    "ms": Field(ge=0, le=_DAY_MS, description="milliseconds added to the time"),
    "points": Field(ge=0, le=1_000_000, description="points taken from the overall standing"),
    "by": Field(min_length=1, max_length=80, description="who decided, or who took or cleared a view"),
    "digest": Field(pattern=r"^[0-9a-f]{16}$", description="the digest of the result that was signed"),
    "upheld": Field(description="whether the appeal was granted"),
    "voids": Field(pattern=_ID, description="the id of the fact that never happened"),
    "output": Field(pattern=_ID, description="the id of the output in the competition file"),
    "view": Field(pattern=r"^[a-z][a-z-]{0,39}$", description="the name of an on-air view"),
    "params": Field(max_length=8, description="what the view is to show, by name: see docs/graphics.md"),
    "delay_ms": Field(ge=0, le=DELAY_MOST_MS, description="milliseconds the output is behind"),
    "text": Field(min_length=1, max_length=NOTE_MOST, description="what was seen, in one line"),
    "spotter": Field(min_length=1, max_length=40, description="the spotter's name, in one line"),
    "item": Field(
        pattern=_ITEM, description="the id of a note; for a fact of the file the entry's id, `/`, its number"
    ),
    "mark": Field(pattern=r"^(pinned|open|dismissed)$", description="how it stands in the booth from now on"),
    "edit": Field(ge=1, le=1_000_000, description="the number of this change of the output's rundown"),
    "before": Field(pattern=r"^[0-9a-f]{16}$", description="the digest of the rundown that was changed"),
    "line": Field(ge=1, le=RUNDOWN_MOST + 1, description="the first line that is replaced, counted from 1"),
    "gone": Field(ge=0, le=RUNDOWN_MOST, description="how many lines are taken out"),
    "added": Field(max_length=20, description="the lines put in: `view`, and `who`, `heat`, `part`, `name` if needed"),
    "automatic": Field(pattern=r"^(off|propose|take)$", description="what the desk does by rule"),
}
_ONE_LINE = (AfterValidator(shown_in_full), AfterValidator(not_blank))
_SAID = {"text", "spotter"}
"""Fields that are read on a page as somebody typed them."""


def _model(kind: type[Fact]) -> type[BaseModel]:
    hints = get_type_hints(kind)
    members: dict[str, Any] = {"fact": (Literal[wire_name(kind)], ...)}
    for each in fields(kind):
        default = ... if each.default is MISSING else each.default
        rules = (_FIELD_RULES[each.name], *(_ONE_LINE if each.name in _SAID else ()))
        members[each.name] = (Annotated[(hints[each.name], *rules)], default)
    config = ConfigDict(extra="forbid", strict=True, title=wire_name(kind), defer_build=True)
    return create_model(kind.__name__, __config__=config, __doc__=kind.__doc__, **members)


@cache
def models() -> Mapping[str, type[BaseModel]]:
    """Give what checks each kind, by its name on the wire; made when first asked for: a start does without."""
    return {name: _model(kind) for name, kind in BY_NAME.items()}


def build_models() -> None:
    """Build what checks each kind, which otherwise the first fact of the kind waits for."""
    for model in models().values():
        model.model_rebuild()


def read_fact(data: object) -> Fact:
    """Read a fact from plain data. Raises BadMessage with every problem, each with its path."""
    if not isinstance(data, Mapping):
        raise BadMessage(f"found {shown(data)}, expected a fact: an object with the fields of its kind")
    if len(data) > FIELDS_LIMIT:
        raise BadMessage(f"found {len(data)} fields, expected at most {FIELDS_LIMIT}")
    name = data.get("fact")
    model = models().get(name) if isinstance(name, str) else None
    if model is None:
        raise BadMessage(f"found {shown(name)}, expected one of {', '.join(BY_NAME)}", path="fact")
    try:
        checked = model.model_validate(data)
    except ValidationError as exc:
        raise BadMessage("; ".join(str(problem) for problem in problems_of(exc))) from exc
    values = dict(checked)
    del values["fact"]
    kind: Any = BY_NAME[str(name)]
    fact: Fact = kind(**values)
    return fact


def fact_data(fact: Fact) -> dict[str, Any]:
    """Give a fact as plain data, kind first; fields that hold their default are left out."""
    kind = type(fact)
    data: dict[str, Any] = {"fact": _NAMES[kind]}
    for name, default in _DEFAULTS[kind]:
        value = getattr(fact, name)
        if value != default:
            data[name] = value
    return data


def fact_line(fact: Fact) -> bytes:
    """Give a fact as one line of JSON, without the newline."""
    return orjson.dumps(fact_data(fact))


def facts_schema() -> dict[str, Any]:
    """Give the JSON Schema (2020-12) of one line of a recording."""
    union: Any = Annotated[_union(), Field(discriminator="fact")]
    adapter: TypeAdapter[Any] = TypeAdapter(union)
    schema = adapter.json_schema()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "one line of a Tallywire recording",
        **schema,
    }


def _union() -> Any:
    return reduce(or_, models().values())
