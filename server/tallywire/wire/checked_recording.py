"""Version 2 of a recording: the lines of version 1 between a head and an end, each with a checksum chained to the last.

The head may carry the competition file with all the files it names, so that one file holds a whole competition.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any

import orjson

from tallywire.core.errors import BadFile, Problem

VERSION = 2
OPENING = b'{"recording":'
"""How the head begins; a recording of version 1 has no head."""
_CHECK = re.compile(rb',"check":"([0-9a-f]{32})"\}\Z')


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle:
    """A competition file and every file it names, as bytes: `main` is the competition file's own name."""

    main: str
    files: Mapping[str, bytes] = field(repr=False)

    def as_data(self) -> dict[str, Any]:
        """Give it as JSON data: UTF-8 as text, other bytes in base64 (RFC 4648 §4)."""
        return {"main": self.main, "files": {name: _packed(data) for name, data in self.files.items()}}

    @classmethod
    def of_data(cls, data: Mapping[str, Any]) -> Bundle:
        """Read what `as_data` gave. Raises KeyError, TypeError or ValueError for anything else."""
        files = {str(name): _unpacked(packed) for name, packed in dict(data["files"]).items()}
        bundle = cls(main=str(data["main"]), files=files)
        bundle.files[bundle.main]
        return bundle


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedRecording:
    """What a recording of version 2 holds: its lines as version 1 has them, its mode, and the competition if any."""

    lines: list[bytes] = field(repr=False)
    mode: str
    competition: Bundle | None


def is_checked(text: bytes) -> bool:
    """Tell whether a file is a recording of version 2 or later."""
    return text.startswith(OPENING)


def checked_lines(lines: Iterable[bytes], *, mode: str, competition: Bundle | None) -> Iterator[bytes]:
    """Give a recording of version 2 of these lines of version 1, line by line, each with its newline."""
    held = {} if competition is None else {"competition": competition.as_data()}
    line, before = _with_check(orjson.dumps({"recording": VERSION, "mode": mode, **held}), b"")
    yield line
    count = 0
    for each in lines:
        line, before = _with_check(each.strip(), before)
        count += 1
        yield line
    yield _with_check(orjson.dumps({"end": count}), before)[0]


def read_checked(name: str, text: bytes) -> CheckedRecording:
    """Read a recording of version 2. Raises BadFile that names the first line that is not what was written."""
    lines: list[bytes] = []
    before = b""
    pieces = text.split(b"\n")
    for number, piece in enumerate(pieces[:-1], start=1):
        line, check = _without_check(piece)
        if line is None or check != (right := _check(line, before)):
            raise _damaged(name, number, "a checksum that does not fit" if check else "no checksum")
        lines.append(line)
        before = right
    if pieces[-1] or not lines:
        raise _damaged(name, len(pieces), "a line that is cut off")
    return _whole(name, lines)


def _whole(name: str, lines: list[bytes]) -> CheckedRecording:
    head, end = orjson.loads(lines[0]), orjson.loads(lines[-1])
    if head.get("recording") != VERSION:
        raise BadFile(name, [Problem("line 1", f"version {head.get('recording')}", f"at most version {VERSION}")])
    facts = lines[1:-1]
    if end.get("end") != len(facts):
        raise _damaged(name, len(lines), "no end: lines are missing after it")
    try:
        competition = Bundle.of_data(head["competition"]) if "competition" in head else None
    except (KeyError, TypeError, ValueError) as exc:
        raise BadFile(name, [Problem("line 1, competition", str(exc), "main and files")]) from exc
    return CheckedRecording(lines=facts, mode=str(head.get("mode")), competition=competition)


def _damaged(name: str, number: int, found: str) -> BadFile:
    sound = f"lines 1 to {number - 1} are sound" if number > 1 else "no line is proven sound"
    return BadFile(name, [Problem(f"line {number}", found, f"the line as it was written; {sound}")])


def _check(line: bytes, before: bytes) -> bytes:
    # SHA-256 cut to 128 bits (NIST SP 800-107 §5.1).
    return sha256(before + line).hexdigest()[:32].encode()


def _with_check(line: bytes, before: bytes) -> tuple[bytes, bytes]:
    check = _check(line, before)
    return line[:-1] + b',"check":"' + check + b'"}\n', check


def _without_check(piece: bytes) -> tuple[bytes | None, bytes]:
    found = _CHECK.search(piece)
    return (None, b"") if found is None else (piece[: found.start()] + b"}", found[1])


def _packed(data: bytes) -> dict[str, str]:
    try:
        return {"text": data.decode()}
    except UnicodeDecodeError:
        return {"base64": base64.b64encode(data).decode()}


def _unpacked(packed: Mapping[str, str]) -> bytes:
    if "text" in packed:
        return packed["text"].encode()
    return base64.b64decode(packed["base64"], validate=True)
