"""Answers as JSON, and with what was made before."""

from __future__ import annotations

from collections.abc import Mapping

import orjson
from starlette.datastructures import Headers
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


def kept_answer(  # noqa: PLR0913
    tag: str,
    body: bytes,
    packed: bytes | None = None,
    *,
    asked: Headers,
    media: str,
    headers: Mapping[str, str] | None = None,
) -> Response:
    """Answer with bytes that have a name, compressed for those who can read that, if they were.

    304 for those who have it (RFC 9110 §13.1.2).
    """
    name = f'W/"{tag}"'
    said = {**(headers or {}), "ETag": name} | ({} if packed is None else {"Vary": "Accept-Encoding"})
    if name in asked.get("if-none-match", ""):
        return Response(status_code=304, headers=said)
    if packed is not None and "gzip" in asked.get("accept-encoding", ""):
        return Response(packed, media_type=media, headers={**said, "Content-Encoding": "gzip"})
    return Response(body, media_type=media, headers=said)
