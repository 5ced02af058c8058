"""What SQLite does to its files, seen from its own layer below (https://www.sqlite.org/vfs.html), by ctypes.

The functions of the system's own layer stay in place but those that change or sync a file: these tell a `Disk` first.
It is the very library that Python's `sqlite3` uses, so the journal runs as it is. The seal is not SQLite's: `watched`
hears of it from `SealFile`.
"""

from __future__ import annotations

import _sqlite3
import ctypes
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from typing import Any
from unittest.mock import patch

from simulated.disk import DELETE, Disk, Op
from tallywire.shell.journal.seal import SLOT_BYTES, SealFile

_P, _I, _L = ctypes.c_void_p, ctypes.c_int, ctypes.c_int64
_OPEN = ctypes.CFUNCTYPE(_I, _P, _P, _P, _I, _P)
_DELETE = ctypes.CFUNCTYPE(_I, _P, _P, _I)
_RANDOMNESS = ctypes.CFUNCTYPE(_I, _P, _I, _P)
_WRITE = ctypes.CFUNCTYPE(_I, _P, _P, _I, _L)
_TRUNCATE = ctypes.CFUNCTYPE(_I, _P, _L)
_SYNC = ctypes.CFUNCTYPE(_I, _P, _I)
_CREATE, _LOGS = 0x4, 0x80000 | 0x800
"""SQLITE_OPEN_CREATE; SQLITE_OPEN_WAL and SQLITE_OPEN_MAIN_JOURNAL."""


class _Methods(ctypes.Structure):
    """SQLite's `sqlite3_io_methods`, version 3."""

    _fields_ = (
        ("version", _I),
        ("close", _P),
        ("read", _P),
        ("write", _WRITE),
        ("truncate", _TRUNCATE),
        ("sync", _SYNC),
        ("others", _P * 13),
    )


class _Layer(ctypes.Structure):
    """SQLite's `sqlite3_vfs`, version 3."""

    _fields_ = (
        ("version", _I),
        ("size", _I),
        ("path_most", _I),
        ("next", _P),
        ("name", ctypes.c_char_p),
        ("data", _P),
        ("open", _OPEN),
        ("delete", _DELETE),
        ("access", _P),
        ("full_path", _P),
        ("libraries", _P * 4),
        ("randomness", _RANDOMNESS),
        ("others", _P * 7),
    )


Fault = Callable[[str, str], int]
"""Asked with `write`, `truncate` or `sync` and the path: 0 to let it be done, else the result code to give instead."""


def _no_fault(_kind: str, _path: str) -> int:
    return 0


class Layer:
    """SQLite's layer with a Disk beside it. `fault` makes writes and syncs fail; `dice` is all of its randomness."""

    def __init__(self, disk: Disk, *, dice: Random | None = None) -> None:
        self.disk = disk
        self.fault: Fault = _no_fault
        self._dice = dice or Random(0)
        self._library = ctypes.CDLL(_sqlite3.__file__)
        self._library.sqlite3_vfs_find.restype = _P
        self._below = _Layer.from_address(self._library.sqlite3_vfs_find(None))
        self._paths: dict[int, str] = {}
        self._new: set[int] = set()
        self._methods: dict[int, tuple[_Methods, _Methods]] = {}
        self._own = _Layer.from_buffer_copy(self._below)
        self._own.name = b"told"
        self._own.open = _OPEN(self._open)
        self._own.delete = _DELETE(self._delete)
        self._own.randomness = _RANDOMNESS(self._randomness)

    def _open(self, _layer: int, name: int | None, file: int, flags: int, flags_out: int | None) -> int:
        result: int = self._below.open(ctypes.addressof(self._below), name, file, flags, flags_out)
        if result == 0 and name is not None:
            # The pointer itself goes below: SQLite reads options behind the end of the name.
            self._paths[file] = ctypes.string_at(name).decode()
            if flags & _CREATE and flags & _LOGS:
                self._new.add(file)
            place = _P.from_address(file)
            place.value = ctypes.addressof(self._told(place.value or 0))
        return result

    def _told(self, address: int) -> _Methods:
        if address not in self._methods:
            below = _Methods.from_address(address)
            told = _Methods.from_buffer_copy(below)
            told.write, told.truncate = _WRITE(self._writer(below)), _TRUNCATE(self._truncater(below))
            told.sync = _SYNC(self._syncer())
            self._methods[address] = (told, below)
        return self._methods[address][0]

    def _writer(self, below: _Methods) -> Callable[[int, int, int, int], int]:
        def write(file: int, data: int, size: int, offset: int) -> int:
            path = self._paths[file]
            failed = self.fault("write", path)
            if not failed:
                self.disk.do(path, Op(offset, ctypes.string_at(data, size)))
            return failed or int(below.write(file, data, size, offset))

        return write

    def _truncater(self, below: _Methods) -> Callable[[int, int], int]:
        def truncate(file: int, size: int) -> int:
            path = self._paths[file]
            failed = self.fault("truncate", path)
            if not failed:
                self.disk.do(path, Op(size, None))
            return failed or int(below.truncate(file, size))

        return truncate

    def _syncer(self) -> Callable[[int, int], int]:
        def sync(file: int, _flags: int) -> int:
            path = self._paths[file]
            failed = self.fault("sync", path)
            if not failed:
                self.disk.sync(path)
                if file in self._new:
                    # As the layer below does at the first sync of a log that it has made.
                    self._new.discard(file)
                    self.disk.sync_names()
            # The system itself need not sync: nothing cuts its power.
            return failed

        return sync

    def _delete(self, _layer: int, name: int, is_synced: int) -> int:
        result: int = self._below.delete(ctypes.addressof(self._below), name, 0)
        if result == 0:
            self.disk.do(ctypes.string_at(name).decode(), DELETE)
            if is_synced:
                self.disk.sync_names()
        return result

    def _randomness(self, _layer: int, size: int, data: int) -> int:
        ctypes.memmove(data, self._dice.randbytes(size), size)
        return size

    @contextmanager
    def in_use(self) -> Iterator[None]:
        """Have every database that is opened meanwhile use this layer, and every seal tell the disk."""
        self._library.sqlite3_vfs_register(ctypes.byref(self._own), 1)
        # SQLite draws from its own numbers, which begin with the layer's: the same dice, the same files.
        self._library.sqlite3_randomness(0, None)
        with patch.object(SealFile, "write", self._seal_write()), patch.object(SealFile, "force", self._seal_force()):
            try:
                yield
            finally:
                self._library.sqlite3_vfs_register(ctypes.byref(self._below), 1)
                self._library.sqlite3_vfs_unregister(ctypes.byref(self._own))

    def _seal_write(self) -> Callable[..., None]:
        real = SealFile.write

        def write(seal: SealFile, count: int, head: bytes, *, closed: bool = False) -> None:
            real(seal, count, head, closed=closed)
            start = seal._serial % 2 * SLOT_BYTES
            self.disk.do(_path_of(seal), Op(start, bytes(seal._memory[start : start + SLOT_BYTES])))

        return write

    def _seal_force(self) -> Callable[[SealFile], None]:
        def force(seal: SealFile) -> None:
            seal.is_dirty = False
            self.disk.sync(_path_of(seal))

        return force


def _path_of(seal: SealFile) -> str:
    return str(Path(f"/proc/self/fd/{seal._descriptor}").readlink())


def is_possible() -> bool:
    """Tell whether this Python's SQLite lets itself be watched: it must be a library of its own."""
    try:
        library: Any = ctypes.CDLL(_sqlite3.__file__)
        library.sqlite3_libversion.restype = ctypes.c_char_p
        return bool(library.sqlite3_libversion().decode() == sqlite3.sqlite_version)
    except (OSError, AttributeError):
        return False
