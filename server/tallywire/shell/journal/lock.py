"""One process for each journal: an operating-system lock on a file that lies beside it."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from tallywire.core.errors import JournalFailed, JournalInUse


def lock_path(path: Path) -> Path:
    """Give the lock file of the journal at `path`, the same for every symbolic link to it."""
    real = path.resolve()
    return real.with_name(f"{real.name}.lock")


@contextmanager
def hold_lock(path: Path) -> Iterator[None]:
    """Keep every other opener of the journal at `path` out; raise JournalFailed when one is already in.

    The kernel drops the lock when its holder dies, however it dies. The file stays: a lock file that is deleted lets
    two openers lock two files of the same name.
    """
    try:
        descriptor = os.open(lock_path(path), os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as exc:
        raise JournalFailed(f"cannot make {lock_path(path)} ({exc.strerror}): expected a folder to write in") from exc
    try:
        _take(descriptor, path)
        yield
    finally:
        os.close(descriptor)


def _take(descriptor: int, path: Path) -> None:
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as exc:
        holder = os.pread(descriptor, 20, 0).decode("ascii", "replace") or "unknown"
        raise JournalInUse(
            f"found the journal {path} in use by process {holder}, expected to be its only user: "
            "stop that process or choose another journal"
        ) from exc
    except OSError as exc:
        raise JournalFailed(f"cannot lock {lock_path(path)} ({exc.strerror}): expected a local disk") from exc
    # On a full disk the holder's process id cannot be written; the lock holds all the same.
    with suppress(OSError):
        os.ftruncate(descriptor, 0)
        os.pwrite(descriptor, str(os.getpid()).encode(), 0)
