"""The seal of a journal: how many lines there are and the head of their chain, kept in a file apart from the database.

If lines are missing at the end, the rest is still a whole chain: only a count kept elsewhere can tell. The seal is
written after each commit and before its answer, never before the commit, so it is never ahead of the database. It is
forced to the disk at most `LAG_S` after it was written: a killed process costs it nothing, a power cut at most the last
second's lines.
"""

from __future__ import annotations

import mmap
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from time import monotonic

LAG_S = 1.0
"""How long the seal on the disk may be behind the one handed to the operating system."""
SLOT_BYTES = 4096
"""Two slots are written in turn, each in a block of its own: a write that was torn leaves the other one whole."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seal:
    """What is sealed: `count` lines whose chain ends in `head`; `closed` when the journal was closed in order."""

    serial: int
    count: int
    head: bytes
    closed: bool

    def as_text(self) -> bytes:
        """Give the seal as a line of text that ends in its own checksum."""
        state = "closed" if self.closed else "open"
        text = f"tallywire-seal 1 {self.serial} {state} {self.count} {self.head.hex()} "
        return f"{text}{sha256(text.encode()).hexdigest()}\n".encode()


@dataclass(frozen=True, slots=True, kw_only=True)
class SealReading:
    """The newest seal that could be read, None when there is none, and what was wrong with the file."""

    seal: Seal | None
    is_there: bool
    faults: tuple[str, ...] = ()


def seal_path(path: Path) -> Path:
    """Give the seal of the journal at `path`, the same for every symbolic link to it."""
    real = path.resolve()
    return real.with_name(f"{real.name}.seal")


def read_seal(path: Path) -> SealReading:
    """Read the seal of the journal at `path`. Raises OSError when the file is there and cannot be read."""
    try:
        data = seal_path(path).read_bytes()
    except FileNotFoundError:
        return SealReading(seal=None, is_there=False)
    slots = [data[:SLOT_BYTES], data[SLOT_BYTES : 2 * SLOT_BYTES]]
    seals = [_parsed(slot) for slot in slots]
    torn = [n for n, (slot, seal) in enumerate(zip(slots, seals, strict=True), start=1) if seal is None and any(slot)]
    faults = [f"slot {number} of the seal cannot be read" for number in torn]
    if len(data) > 2 * SLOT_BYTES:
        faults.append(f"the seal has {len(data)} bytes, expected at most {2 * SLOT_BYTES}")
    known = [seal for seal in seals if seal is not None]
    return SealReading(
        seal=max(known, key=lambda seal: seal.serial) if known else None, is_there=True, faults=tuple(faults)
    )


def _parsed(slot: bytes) -> Seal | None:
    text, newline, rest = slot.partition(b"\n")
    try:
        name, version, serial, state, count, head, _ = text.decode("ascii").split(" ")
        seal = Seal(serial=int(serial), count=int(count), head=bytes.fromhex(head), closed=state == "closed")
    except ValueError:
        return None
    whole = (name, version) == ("tallywire-seal", "1") and seal.as_text() == text + newline and not any(rest)
    return seal if whole else None


class SealFile:
    """The seal's file while its journal is open. All calls come from the journal's thread.

    Written through memory that the file is mapped to: a system call would give the interpreter lock away, and a busy
    event loop gives it back only after its switch time (tests/shell/bench_journal.py).
    """

    def __init__(self, descriptor: int, memory: mmap.mmap, serial: int) -> None:
        self._descriptor = descriptor
        self._memory = memory
        self._serial = serial
        self._forced = monotonic()
        self.is_dirty = False

    def write(self, count: int, head: bytes, *, closed: bool = False) -> None:
        """Hand a seal to the operating system, in the slot whose turn it is."""
        self._serial += 1
        text = Seal(serial=self._serial, count=count, head=head, closed=closed).as_text()
        start = self._serial % 2 * SLOT_BYTES
        self._memory[start : start + SLOT_BYTES] = text.ljust(SLOT_BYTES, b"\0")
        self.is_dirty = True

    @property
    def is_due(self) -> bool:
        """True when the disk's seal has been behind for long enough."""
        return self.is_dirty and monotonic() - self._forced >= LAG_S

    def force(self) -> None:
        """Force everything written so far to the disk."""
        self._memory.flush()
        os.fsync(self._descriptor)
        self._forced = monotonic()
        self.is_dirty = False


@contextmanager
def open_seal(path: Path, *, serial: int) -> Iterator[SealFile]:
    """Open the seal of the journal at `path` for writing, made if missing. Raises OSError."""
    place = seal_path(path)
    is_new = not place.exists()
    descriptor = os.open(place, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        os.fchmod(descriptor, 0o600)
        if is_new:
            _force_folder(place.parent)
        # Take its blocks now, so that a full disk fails here and not where memory is written.
        os.posix_fallocate(descriptor, 0, 2 * SLOT_BYTES)
        with mmap.mmap(descriptor, 2 * SLOT_BYTES) as memory:
            yield SealFile(descriptor, memory, serial)
    finally:
        os.close(descriptor)


def _force_folder(folder: Path) -> None:
    """Force the new name in the folder to the disk (POSIX: fsync of a file does not write its directory entry)."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
