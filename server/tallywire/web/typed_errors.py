"""Every refusal over HTTP has the same shape: a stable code and a message, as JSON."""

from __future__ import annotations

from http import HTTPStatus

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from tallywire.web.answers import problem


async def typed_error(_request: Request, error: Exception) -> Response:
    """Answer what the routes themselves do not: an unknown path, or a method that a path has not."""
    status = error.status_code if isinstance(error, HTTPException) else HTTPStatus.INTERNAL_SERVER_ERROR
    headers = dict(error.headers or {}) if isinstance(error, HTTPException) else {}
    code = HTTPStatus(status).phrase.lower().replace(" ", "_")
    message = "found another path or method, expected one of this server's: see /openapi.json"
    return problem(code, message, status=status, headers=headers)
