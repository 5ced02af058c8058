"""Server-sent events as bytes (WHATWG HTML, section 9.2.6, "Interpreting an event stream")."""

from __future__ import annotations

import re

MEDIA_TYPE = "text/event-stream"
RETRY_MS = 1000
"""How long a client waits before it connects again."""
BEGINNING = f"retry: {RETRY_MS}\n\n".encode()
HEARTBEAT = b": alive\n\n"
"""A comment: clients pass over it, and what stands between sees that the stream is alive."""
HEARTBEAT_S = 15.0
"""The standard advises "every 15 seconds or so" (section 9.2.7)."""
_LINE_END = re.compile(rb"\r\n|\r|\n")


def event(data: bytes, *, name: str, number: str) -> bytes:
    """Give one event: its data, a line for each line of them; `number` is its id, by which a client resumes."""
    lines = b"".join(b"data: " + line + b"\n" for line in _LINE_END.split(data))
    return f"event: {name}\nid: {number}\n".encode() + lines + b"\n"
