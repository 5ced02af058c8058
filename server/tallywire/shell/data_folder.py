"""The data folder of a server: what lies in it, and making it fit for use."""

from __future__ import annotations

import os
from pathlib import Path

from tallywire.core.errors import BadFile, JournalFailed, Problem

JOURNAL, LINKS, COMPETITION, ADDRESS = "journal.sqlite", "links.json", "competition.json", "server.json"
CLOCK, FORECASTS, PUSH_KEY = "clock.json", "forecasts.ndjson", "push-key"


def make_data_folder(folder: Path, *, option: str = "--data") -> None:
    """Make the folder if it is missing, its owner's alone. Raises JournalFailed when it cannot be one."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except FileExistsError as exc:
        raise JournalFailed(
            f"found a file at {folder}, expected a folder for the journal: name one with --data"
        ) from exc
    except OSError as exc:
        raise JournalFailed(
            f"cannot make the data folder {folder} ({exc.strerror}): choose one that can be written with {option}"
        ) from exc


def journal_in(folder: Path) -> Path:
    """Give the journal in a data folder. Raises BadFile when there is none, nor a sign that there was one."""
    path = folder / JOURNAL
    if not path.is_file() and not path.with_name(f"{JOURNAL}.seal").is_file():
        problem = Problem(JOURNAL, "nothing", "the journal of a server's --data folder")
        raise BadFile(str(folder), [problem])
    return path


def write_private(path: Path, data: bytes) -> None:
    """Write a file that only its owner may read, on the disk whole or not at all. Raises OSError."""
    write_whole(path, data, beside=path.with_name(f"{path.name}.new"), mode=0o600)


def write_whole(path: Path, data: bytes, *, beside: Path, mode: int) -> None:
    """Write a file that is on the disk whole or not at all: first `beside` it, with these rights. Raises OSError."""
    beside.unlink(missing_ok=True)
    descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    with os.fdopen(descriptor, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
