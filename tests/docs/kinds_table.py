"""The tables of docs/recording.md, made from the schema that `tallywire schema events` prints.

python tests/docs/kinds_table.py    writes them anew
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tallywire.wire.fact_lines import BY_NAME, facts_schema

DOCUMENT = Path(__file__).parents[2] / "docs" / "recording.md"
COMMON = ("fact", "id", "heat", "at_ms", "sender", "sequence", "uncertain_ms", "start")
_ID_TEXT = "an id: up to 64 letters, digits and `. _ : -`"

Schema = Mapping[str, Any]


def tables() -> dict[str, str]:
    """Give each table by the name it has in the document."""
    defs = facts_schema()["$defs"]
    kinds: dict[str, Schema] = {each["title"]: each for each in defs.values()}
    own = {name: field for kind in _ordered(kinds) for name, field in kind["properties"].items() if name not in COMMON}
    shared = next(iter(kinds.values()))["properties"]
    return {
        "common": _fields({"fact": {"description": "the kind", "type": "kind"}} | {n: shared[n] for n in COMMON[1:]}),
        "kinds": "\n".join(
            ["| kind | fields of its own | meaning |", "| --- | --- | --- |", *map(_kind, _ordered(kinds))]
        ),
        "fields": _fields(own),
    }


def written(text: str) -> str:
    """Give the document with its tables made anew."""
    for name, table in tables().items():
        begin, end = re.escape(f"<!-- {name}: begin, made from the schema -->"), f"<!-- {name}: end -->"
        parts = re.fullmatch(f"(.*{begin}\n).*({end}.*)", text, re.DOTALL)
        if parts is None:
            raise ValueError(f'found no place for the table "{name}", expected its two comments')
        text = f"{parts[1]}\n{table}\n\n{parts[2]}"
    return text


def _ordered(kinds: Mapping[str, Schema]) -> list[Schema]:
    return [kinds[name] for name in BY_NAME]


def _kind(kind: Schema) -> str:
    fields = [_named(name, field) for name, field in kind["properties"].items() if name not in COMMON]
    return f"| `{kind['title']}` | {', '.join(fields) or '–'} | {' '.join(kind['description'].split())} |"


def _named(name: str, field: Schema) -> str:
    if "default" not in field:
        return f"`{name}`"
    default = field["default"]
    return f"`{name}` (may be left out{f': {default}' if default not in (None, '') else ''})"


def _fields(fields: Mapping[str, Schema]) -> str:
    rows = [f"| `{name}` | {_value(field)} | {field['description']} |" for name, field in fields.items()]
    return "\n".join(["| field | value | meaning |", "| --- | --- | --- |", *rows])


def _value(field: Schema) -> str:
    shape = next((each for each in field.get("anyOf", []) if each.get("type") != "null"), field)
    if shape["type"] == "kind":
        return "one of the kinds below"
    if shape["type"] == "boolean":
        return "true or false"
    if shape["type"] in ("object", "array"):
        whole = shape["type"] == "object"
        many = shape["maxProperties" if whole else "maxItems"]
        return f"an object of at most {many} texts by name" if whole else f"a list of at most {many} such objects"
    if shape["type"] == "integer":
        return f"whole number, {shape['minimum']:,} to {shape['maximum']:,}"
    if "pattern" in shape:
        return _ID_TEXT if "A-Za-z" in shape["pattern"] else f"text like `{shape['pattern'].strip('^$')}`"
    return f"text, {shape.get('minLength', 0)} to {shape['maxLength']} characters"


if __name__ == "__main__":
    DOCUMENT.write_text(written(DOCUMENT.read_text(encoding="utf-8")), encoding="utf-8")
