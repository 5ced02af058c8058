"""The text of a file that somebody wrote with a program of their own: UTF-8, with or without its byte order mark."""

from __future__ import annotations

from codecs import BOM_UTF8

from tallywire.core.errors import BadFile, Problem


def plain_text(name: str, text: bytes) -> str:
    """Read a file's bytes as text. Raises BadFile with the line of the first byte that is not UTF-8."""
    try:
        return without_mark(text).decode()
    except UnicodeDecodeError as exc:
        line, byte = exc.object.count(b"\n", 0, exc.start) + 1, exc.object[exc.start]
        problem = Problem(f"line {line}", f"the byte {byte:02X}, which is no UTF-8", "a file that was saved as UTF-8")
        raise BadFile(name, [problem]) from exc


def without_mark(text: bytes) -> bytes:
    """Take off the byte order mark, which some programs put in front of UTF-8."""
    return text.removeprefix(BOM_UTF8)
