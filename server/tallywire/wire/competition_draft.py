"""A competition that is being made on a page: what its file says as JSON, and back into what TOML can hold."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from pydantic import TypeAdapter

from tallywire.core.errors import BadFile, BadMessage, Problem
from tallywire.core.formats.registry import formats
from tallywire.formats.format_file import FormatFile
from tallywire.wire.competition_file import ReadBytes, competition_from

_DEEPEST = 10
"""A competition file has tables in tables up to six deep."""


def typed(draft: Mapping[str, Any]) -> dict[str, Any]:
    """Give a draft with its times as times. Raises BadMessage for what no TOML file can say."""
    data = {name: _sound(value, _DEEPEST) for name, value in draft.items()}
    heats = data.get("heat")
    for heat in heats if isinstance(heats, list) else []:
        if isinstance(heat, dict) and isinstance(heat.get("start"), str):
            heat["start"] = _time(heat["start"])
    return data


def draft_problems(name: str, data: dict[str, Any], read_bytes: ReadBytes) -> list[Problem]:
    """Give everything that is wrong with a draft."""
    try:
        competition_from(name, data, read_bytes)
    except BadFile as exc:
        return list(exc.problems)
    return []


def known_formats() -> Iterator[dict[str, Any]]:
    """Give each format with its own field and the JSON Schema of what stands there."""
    for each in formats():
        file = each.facet(FormatFile)
        own = {} if file.field is None else {"field": file.field, "schema": _schema(file.table)}
        yield {"name": each.name, **own}


def _schema(table: Any) -> dict[str, Any]:
    adapter: TypeAdapter[Any] = TypeAdapter(table)
    return adapter.json_schema(by_alias=True)


def _sound(value: Any, deep: int) -> Any:
    if value is None or not deep:
        raise BadMessage("found " + ("null" if value is None else "tables too deep"), path="data")
    if isinstance(value, dict):
        return {name: _sound(each, deep - 1) for name, each in value.items()}
    return [_sound(each, deep - 1) for each in value] if isinstance(value, list) else value


def _time(text: str) -> datetime | str:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return text
