"""The answer to who asks an outlet once: what it hands out, or that it is what the client has."""

from __future__ import annotations

from starlette.responses import Response

from tallywire.shell.outlets import Form, Handed

_MEDIA = {"json": "application/json", "csv": "text/csv; charset=utf-8; header=present"}
"""RFC 8259; RFC 4180 §3 for CSV."""


def given(handed: Handed, form: Form, had: str) -> Response:
    """Answer with what is handed out; 304 for those who name what they had (RFC 9110 §13.1.2), weakly compared."""
    tag = f'"{handed.name}"'
    headers = {"ETag": tag, "Cache-Control": "no-cache"}
    if had and (had == "*" or tag in (each.strip().removeprefix("W/") for each in had.split(","))):
        return Response(status_code=304, headers=headers)
    return Response(handed.body, media_type=_MEDIA[form.rpartition(".")[2]], headers=headers)
