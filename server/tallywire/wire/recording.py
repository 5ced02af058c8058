"""A recording: newline-delimited JSON, one fact a line. It is what the journal exports and what `rehearse` plays."""

from __future__ import annotations

from collections.abc import Sequence

import orjson

from tallywire.core.errors import BadFile, BadMessage, Problem
from tallywire.core.facts import Fact
from tallywire.wire.checked_recording import is_checked, read_checked
from tallywire.wire.fact_lines import read_fact
from tallywire.wire.problems import shown

LINE_LIMIT = 64 * 1024


def read_recording(name: str, text: bytes) -> list[Fact]:
    """Read a recording, in the order of the file. Raises BadFile with every problem, each with its line number.

    Lines that say `refused` (the journal keeps what it did not take) and empty lines are passed over.
    """
    return read_lines(name, recorded_lines(name, text))


def recorded_lines(name: str, text: bytes) -> list[bytes]:
    """Give the lines of a recording of any version, as version 1 has them. Raises BadFile for a damaged one."""
    return read_checked(name, text).lines if is_checked(text) else text.splitlines()


def read_lines(name: str, lines: Sequence[bytes]) -> list[Fact]:
    """Read the lines of a recording, as `recorded_lines` gives them. Raises BadFile with every problem."""
    facts: list[Fact] = []
    problems: list[Problem] = []
    for number, line in enumerate(lines, start=1):
        try:
            facts += _fact_of(line)
        except BadMessage as exc:
            problems.append(_problem(number, exc))
    if not facts and not problems:
        problems.append(Problem("the recording", "no facts", "one fact a line"))
    if problems:
        raise BadFile(name, problems)
    return facts


def recording_line(body: bytes, refusal: bytes | None) -> bytes:
    """Give a journal line as a line of a recording, newline included; a refused one has the reason in `refused`."""
    if refusal is None:
        return body + b"\n"
    try:
        data = orjson.loads(body)
    except orjson.JSONDecodeError:
        data = body.decode(errors="replace")
    kept = data if isinstance(data, dict) else {"unread": data}
    return orjson.dumps({"refused": orjson.loads(refusal), **kept}) + b"\n"


def _fact_of(line: bytes) -> list[Fact]:
    if not line.strip():
        return []
    if len(line) > LINE_LIMIT:
        raise BadMessage(f"found {len(line)} bytes, expected at most {LINE_LIMIT}")
    try:
        data = orjson.loads(line)
    except orjson.JSONDecodeError as exc:
        raise BadMessage(f"found {shown(line.decode(errors='replace'))}, expected one JSON object ({exc.msg})") from exc
    if isinstance(data, dict) and "refused" in data:
        return []
    return [read_fact(data)]


def _problem(number: int, error: BadMessage) -> Problem:
    found, _, expected = str(error).partition(", expected ")
    return Problem(f"line {number}", found.removeprefix("found "), expected or "a fact")
