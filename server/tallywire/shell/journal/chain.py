"""The chain of a journal: each line has the SHA-256 of itself and of the chain before it, so none can change alone."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

from tallywire.shell.journal.port import Line, Row

GENESIS = bytes(32)
"""The chain before the first line."""

NOTE_GENESIS = b"note"
"""The bytes that come before a note in its checksum."""


def chained(before: bytes, line: Line) -> bytes:
    """Give the chain up to a line: SHA-256 (FIPS 180-4) of the chain before it, its numbers and lengths, its bytes.

    The lengths stand in front, -1 for no refusal, so that no two lines are the same bytes.
    """
    number, received_unix_ms, sender, sequence, body, refusal = line
    name = sender.encode()
    lengths = (number, received_unix_ms, sequence, len(name), len(body), -1 if refusal is None else len(refusal))
    return sha256(before + b"%d %d %d %d %d %d\n" % lengths + name + body + (refusal or b"")).digest()


def following(before: bytes, rows: Sequence[Row], *, number: int) -> int:
    """Tell how many of these rows, a line's values and its chain each, go on with the chain, from `number` on.

    What `chained` says, in three fifths of its time: a start goes through every line.
    """
    names: dict[str, bytes] = {}
    hashed, on = sha256, 0
    try:
        for found, received_unix_ms, sender, sequence, body, refusal, chain in rows:
            name = names.get(sender) or names.setdefault(sender, sender.encode())
            numbers = (before, found, received_unix_ms, sequence, len(name), len(body))
            if refusal is None:
                text = b"%b%d %d %d %d %d -1\n%b%b" % (*numbers, name, body)
            else:
                text = b"%b%d %d %d %d %d %d\n%b%b%b" % (*numbers, len(refusal), name, body, refusal)
            if hashed(text).digest() != chain or found != number + on:
                break
            before = chain
            on += 1
    except (TypeError, AttributeError):
        # A value of another type, in a damaged file.
        pass
    return on


def note_check(key: str, value: str) -> bytes:
    """Give the checksum of a note."""
    name, text = key.encode(), value.encode()
    return sha256(b"%b %d %d\n%b%b" % (NOTE_GENESIS, len(name), len(text), name, text)).digest()
