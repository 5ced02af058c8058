"""Answers as JSON."""

from __future__ import annotations

from collections.abc import Mapping

import orjson
from starlette.responses import Response

from tallywire.wire.reasons import with_reason


def json_answer(data: object, *, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """Answer with JSON; what has a message says it for every language too."""
    told = with_reason(data) if isinstance(data, Mapping) and "message" in data else data
    return Response(
        orjson.dumps(told), status_code=status, media_type="application/json", headers=dict(headers or {}) or None
    )


def problem(code: str, message: str, *, status: int, headers: Mapping[str, str] | None = None) -> Response:
    """Answer with what was found and what was expected, under a code that stays."""
    return json_answer({"code": code, "message": message}, status=status, headers=headers)
