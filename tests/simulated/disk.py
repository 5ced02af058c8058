"""A disk that knows what was synced: a power cut keeps that, and of the rest whatever the dice say.

The model is POSIX's: what was written before an `fsync` that returned is there; of what was written later each write is
there, not there, or there in part; a deletion or a new length that nobody synced may be undone. A write touches no byte
beside its own (SQLite calls this powersafe overwrite and takes it for granted unless told otherwise).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from random import Random
from typing import NamedTuple

SECTOR = 512
"""The piece of a write that a disk takes whole or not at all."""


class Op(NamedTuple):
    """One change of a file: `data` is None for a new length, `offset` is below 0 for a deletion."""

    offset: int
    data: bytes | None

    @property
    def deletes(self) -> bool:
        """True for a deletion."""
        return self.offset < 0


DELETE = Op(-1, None)


@dataclass(slots=True)
class Stored:
    """One file: what is certainly there (None: no file), and what was done to it since its last sync."""

    certain: bytearray | None = None
    since: list[Op] = field(default_factory=list)

    def now(self) -> bytes | None:
        """Give what a program sees."""
        return _played(self.certain, self.since)

    def sync(self) -> None:
        """Make all of it certain."""
        for op in self.since:
            self.certain = _done(self.certain, op)
        self.since = []

    def sync_name(self) -> None:
        """Make it certain that a file which was deleted is gone."""
        for n in range(len(self.since) - 1, -1, -1):
            if self.since[n].deletes:
                self.certain, self.since = None, self.since[n + 1 :]
                return

    def after_power_cut(self, dice: Random) -> bytes | None:
        """Give what may be found when the power comes back."""
        before = self.certain
        deletions = [n for n, op in enumerate(self.since) if op.deletes]
        start = 0
        for n in deletions:
            # Either the file of before the deletion is back, or what came after it was done to a new file.
            if dice.random() < 0.5:
                return _played(before, _some(self.since[start:n], dice))
            before, start = None, n + 1
        return _played(before, _some(self.since[start:], dice))


def _played(data: bytearray | None, ops: list[Op]) -> bytes | None:
    copy = None if data is None else bytearray(data)
    for op in ops:
        copy = _done(copy, op)
    return None if copy is None else bytes(copy)


def _done(data: bytearray | None, op: Op) -> bytearray | None:
    if op.deletes:
        return None
    data = bytearray() if data is None else data
    if op.data is None:
        del data[op.offset :]
    data.extend(bytes(max(0, op.offset - len(data))))
    if op.data is not None:
        data[op.offset : op.offset + len(op.data)] = op.data
    return data


def _some(ops: list[Op], dice: Random) -> list[Op]:
    """Drop some of the changes and tear others; now and then all are dropped, or all are there."""
    share = dice.choice((0.0, 0.5, 0.9, 1.0))
    kept: list[Op] = []
    for op in ops:
        if dice.random() < share:
            kept.append(op)
        elif op.data is not None and dice.random() < 0.5:
            kept += _torn(op, dice)
    return kept


def _torn(op: Op, dice: Random) -> list[Op]:
    data = op.data or b""
    edges = range(op.offset - op.offset % SECTOR, op.offset + len(data), SECTOR)
    pieces = [(max(edge, op.offset), min(edge + SECTOR, op.offset + len(data))) for edge in edges]
    return [Op(start, data[start - op.offset : end - op.offset]) for start, end in pieces if dice.random() < 0.5]


Contents = Mapping[str, bytes | None]
"""The bytes of each file by its path; None for one that is not there."""


class Disk:
    """What was done to some files, in order. `log` has every change and sync, for cuts at any of them."""

    def __init__(self) -> None:
        self.files: dict[str, Stored] = {}
        self.log: list[Callable[[Disk], None]] = []
        self.is_logging = False
        self.is_on = True

    def do(self, path: str, op: Op) -> None:
        """Change a file."""
        self._keep(lambda disk: disk.do(path, op))
        if self.is_on:
            self.files.setdefault(path, Stored()).since.append(op)

    def sync(self, path: str) -> None:
        """Make a file certain."""
        self._keep(lambda disk: disk.sync(path))
        if self.is_on:
            self.files.setdefault(path, Stored()).sync()

    def sync_names(self) -> None:
        """Sync the folder (POSIX: fsync of a file writes no directory entry)."""
        self._keep(lambda disk: disk.sync_names())
        for file in self.files.values() if self.is_on else ():
            file.sync_name()

    def _keep(self, step: Callable[[Disk], None]) -> None:
        if self.is_logging:
            self.log.append(step)

    def now(self) -> Contents:
        """Give what programs see, as a kill leaves it."""
        return {path: file.now() for path, file in self.files.items()}

    def after_power_cut(self, dice: Random) -> Contents:
        """Give what may be found when the power comes back."""
        return {path: file.after_power_cut(dice) for path, file in self.files.items()}

    def start_from(self, contents: Contents) -> None:
        """Go on with these files, all of them certain."""
        self.files = {
            path: Stored(certain=None if data is None else bytearray(data)) for path, data in contents.items()
        }
        self.is_on = True
