"""Reading the files a person names, and finding what ships with the package."""

from __future__ import annotations

import asyncio
from pathlib import Path

from tallywire.core.errors import BadFile, Problem
from tallywire.core.facts import Fact
from tallywire.core.model.competition import Competition
from tallywire.shell.collection import uncollected
from tallywire.shell.data_folder import journal_in
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.wire.competition_file import read_competition
from tallywire.wire.recording import read_recording
from tallywire.wire.trusted_lines import trusted_facts

_PACKAGE = Path(__file__).resolve().parents[1]
_FILE_LIMIT = 256 * 1024 * 1024
_ATTACHED_LIMIT = 16 * 1024 * 1024


def assets(name: str) -> Path:
    """Give the folder of shipped assets, `overlay` or `scenarios`: the checkout's own when there is one."""
    checkout = _PACKAGE.parents[1]
    if (checkout / "pyproject.toml").is_file() and (checkout / name).is_dir():
        return checkout / name
    return _PACKAGE / "_assets" / name


def load_competition(path: Path) -> Competition:
    """Read a competition file with its start lists. Raises BadFile."""
    folder = path.resolve().parent
    return read_competition(str(path), load_text(path), lambda name: _attached(folder, name))


def load_recording(path: Path, *, until_line: int | None = None) -> list[Fact]:
    """Read a recording, or the journal in a server's data folder, up to a line of it. Raises BadFile."""
    if path.is_dir():
        with uncollected():
            facts = trusted_facts(_journal_bodies(path, until_line))
        if not facts:
            raise BadFile(str(path), [Problem("the journal", "no facts", "a journal with facts")])
        return facts
    texts = _bytes(path).splitlines()
    _check_line(path, until_line, len(texts))
    return read_recording(str(path), b"\n".join(texts[:until_line]))


def _check_line(path: Path, line: int | None, count: int) -> None:
    if line is not None and not 1 <= line <= count:
        raise BadFile(str(path), [Problem("line", str(line), f"a line from 1 to {count}")])


def _journal_bodies(folder: Path, until_line: int | None) -> list[bytes]:
    """The accepted facts of the journal up to a line; refused lines count in its numbers."""
    journal = SqliteJournal.open(journal_in(folder))
    try:
        _check_line(folder, until_line, journal.last())
        return journal.bodies(until=until_line)
    finally:
        asyncio.run(journal.close())


def competition_beside(recording: Path, heat: str) -> Path:
    """Find the competition file in the recording's folder that has this heat. Raises BadFile when there is none."""
    for candidate in sorted(recording.resolve().parent.glob("*.toml")):
        try:
            if heat in load_competition(candidate).heats:
                return candidate
        except BadFile:
            continue
    problem = Problem(
        "heat", f'"{heat}"', "a competition file beside the recording that has it; else name one with --competition"
    )
    raise BadFile(str(recording), [problem])


def _attached(folder: Path, name: str) -> bytes:
    """Read a file that a competition file names. Raises OSError."""
    path = (folder / name).resolve()
    if not path.is_relative_to(folder):
        raise OSError("outside the folder of the competition file")
    if path.stat().st_size > _ATTACHED_LIMIT:
        raise OSError(f"{path.stat().st_size} bytes, more than {_ATTACHED_LIMIT}")
    return path.read_bytes()


def load_text(path: Path) -> str:
    """Read a text file in UTF-8. Raises BadFile."""
    try:
        return _bytes(path).decode()
    except UnicodeDecodeError as exc:
        raise BadFile(
            str(path), [Problem("the file", f"bytes that are not UTF-8 at {exc.start}", "UTF-8 text")]
        ) from exc


def _bytes(path: Path) -> bytes:
    try:
        if path.stat().st_size > _FILE_LIMIT:
            raise BadFile(str(path), [Problem("the file", f"{path.stat().st_size} bytes", f"at most {_FILE_LIMIT}")])
        return path.read_bytes()
    except OSError as exc:
        raise BadFile(str(path), [Problem("the file", exc.strerror or str(exc), "a file that can be read")]) from exc


def write_text(path: Path, text: str) -> None:
    """Write a file in UTF-8 as it is, its folder made if missing. Raises BadFile."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode())
    except OSError as exc:
        raise BadFile(str(path), [Problem("the file", exc.strerror or str(exc), "a place to write to")]) from exc
