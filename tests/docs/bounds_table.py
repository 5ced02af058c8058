"""The table of bounds in docs/competition-file.md, made from the schema that `tallywire schema competition` prints.

python tests/docs/bounds_table.py    writes it anew
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from tallywire.wire.competition_file import competition_schema

DOCUMENT = Path(__file__).parents[2] / "docs" / "competition-file.md"
PAIRS = (
    ("minLength", "maxLength", "characters"),
    ("minItems", "maxItems", "of them"),
    ("minimum", "maximum", ""),
    ("exclusiveMinimum", "maximum", ""),
)

Schema = Mapping[str, Any]


def table() -> str:
    """Give the table: each field that has bounds, by the table it stands in."""
    schema = competition_schema()
    tables = {"the top": schema, **dict(sorted(schema["$defs"].items()))}
    lines = [f"| {_heading(name)} | {', '.join(_bounded(each))} |" for name, each in tables.items()]
    return "\n".join(["| in | bounds |", "| --- | --- |", *(line for line in lines if "`:" in line)])


def written(text: str) -> str:
    """Give the document with its table made anew."""
    begin, end = "<!-- bounds: begin, made from the schema -->", "<!-- bounds: end -->"
    before, _, rest = text.partition(begin)
    return f"{before}{begin}\n\n{table()}\n\n{end}{rest.partition(end)[2]}"


def _heading(name: str) -> str:
    return re.sub(r"(?<!^)(?=[A-Z])", " ", name.removesuffix("Table")).lower() if name != "the top" else name


def _bounded(schema: Schema) -> Iterator[str]:
    for name, field in schema["properties"].items():
        told = list(dict.fromkeys(_told(field)))
        if told:
            yield f"`{name}`: {', each '.join(told)}"


def _told(field: Schema) -> Iterator[str]:
    """The bounds of a field, and then of what is in it."""
    for shape in (field, *field.get("anyOf", [])):
        for least, most, what in PAIRS:
            if most in shape and (least in shape or (least.startswith("min") and "exclusiveMinimum" not in shape)):
                yield f"{_from(least, shape)} to {_number(shape[most])} {what}".strip()
        for inner in (shape.get("items"), *shape.get("patternProperties", {}).values()):
            if isinstance(inner, Mapping):
                yield from _told(inner)


def _from(least: str, shape: Schema) -> str:
    return f"above {_number(shape[least])}" if least.startswith("exclusive") else _number(shape.get(least, 0))


def _number(value: float) -> str:
    return f"{value:,.10g}"


if __name__ == "__main__":
    DOCUMENT.write_text(written(DOCUMENT.read_text(encoding="utf-8")), encoding="utf-8")
