"""Answers as JSON."""

from __future__ import annotations

from collections.abc import Mapping

import orjson
from starlette.responses import Response


def json_answer(data: object, *, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """Answer with JSON."""
    return Response(
        orjson.dumps(data), status_code=status, media_type="application/json", headers=dict(headers or {}) or None
    )


def problem(code: str, message: str, *, status: int, headers: Mapping[str, str] | None = None) -> Response:
    """Answer with what was found and what was expected, under a code that stays."""
    return json_answer({"code": code, "message": message}, status=status, headers=headers)
