"""Write a competition, a plain dict, as TOML: the standard library reads it but does not write it."""

from __future__ import annotations

import json
from typing import Any


def inline(value: Any) -> str:
    """Give a value on one line."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(key)} = {inline(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(inline(each) for each in value) + "]"
    return json.dumps(value, ensure_ascii=False)


def toml_text(competition: dict[str, Any]) -> str:
    """Give the competition file: tables and lists of tables at the top, everything below them inline."""
    lines: list[str] = []
    for name, value in competition.items():
        for table in value if isinstance(value, list) else [value]:
            lines.append(f"[[{name}]]" if isinstance(value, list) else f"[{name}]")
            lines += [f"{json.dumps(key)} = {inline(each)}" for key, each in table.items()]
            lines.append("")
    return "\n".join(lines)
