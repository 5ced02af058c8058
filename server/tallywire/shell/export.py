"""Exporting a data folder: one file with the competition and its journal, also while a server has the folder."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import orjson

from tallywire.core.errors import BadFile, JournalFailed, JournalInUse, TallywireError
from tallywire.shell.data_folder import (
    ADDRESS,
    COMPETITION,
    JOURNAL,
    LINKS,
    journal_in,
    make_data_folder,
    write_private,
)
from tallywire.shell.journal.opening import RedisOptions, shared
from tallywire.shell.journal.port import Draft
from tallywire.shell.journal.reading import Sound, sound_lines
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.shell.own_server import OwnServer
from tallywire.wire.checked_recording import Bundle, CheckedRecording, checked_lines
from tallywire.wire.fact_lines import read_fact
from tallywire.wire.recording import recording_line

_log = logging.getLogger(__name__)
_REFUSED = b'{"refused":'


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """The lines of a journal as a recording has them, and the mode it was written in."""

    lines: Iterable[bytes]
    mode: str


def export(folder: Path, *, refused: bool) -> Iterator[bytes]:
    """Give a data folder as a recording, line by line; refused facts only when asked for.

    A folder in use is asked for over HTTP with the key of this run: a second connection to the
    database could corrupt it.
    Raises BadFile, JournalDamaged, or JournalFailed when it is in use by a server that does not answer.
    """
    try:
        held = _from_disk(journal_in(folder))
    except JournalInUse as exc:
        held = _from_server(folder, exc)
    except BadFile as exc:
        # A server whose journal is on Redis has a folder without one, and answers for it while it runs.
        if not (folder / ADDRESS).is_file():
            raise
        held = _from_server(folder, exc)
    return _recording(held, load_kept(folder), refused=refused)


def export_redis(redis: RedisOptions, *, refused: bool) -> Iterator[bytes]:
    """Give a journal on Redis as a recording, as it is at this instant, whether a server has it or not.

    Raises JournalDamaged, or JournalFailed when Redis does not answer.
    """
    from tallywire.shell.journal.on_redis.reading import sound_lines as sound_on_redis

    held = _held(sound_on_redis(redis.place()))
    return _recording(held, _bundle_of(shared(redis, "competition").read() or b""), refused=refused)


def _recording(held: Held, competition: Bundle | None, *, refused: bool) -> Iterator[bytes]:
    lines = (line for line in held.lines if refused or not line.startswith(_REFUSED))
    return checked_lines(lines, mode=held.mode, competition=competition)


def _from_disk(path: Path) -> Held:
    return _held(sound_lines(path))


def _held(sound: Sound) -> Held:
    lines = (recording_line(line.body, line.refusal) for line in sound.lines)
    return Held(lines=lines, mode=sound.notes.get("mode", "live"))


def _from_server(folder: Path, why: TallywireError) -> Held:
    try:
        server = OwnServer.noted(folder)
        mode = str(orjson.loads(server.get("/health"))["mode"])
        return Held(lines=server.get("/recording").splitlines(), mode=mode)
    except (OSError, ValueError, KeyError, TypeError) as exc:
        raise JournalFailed(f"{why}; asked for the journal, it did not answer ({exc})") from exc


def keep_address(folder: Path, address: str, *, key: str, certificate: Path | None = None) -> None:
    """Note where the server that has this folder answers, the machine's own key to it, and its certificate if any."""
    own = address.replace("//0.0.0.0:", "//127.0.0.1:").replace("//[::]:", "//[::1]:")
    noted = {"address": own, "key": key} | ({} if certificate is None else {"certificate": str(certificate.resolve())})
    write_own(folder / ADDRESS, orjson.dumps(noted))


def keep_competition(folder: Path, bundle: Bundle) -> None:
    """Keep the competition file with what it names beside the journal, for the export."""
    write_own(folder / COMPETITION, orjson.dumps(bundle.as_data()))


def keep_beside(folder: Path, mirror: Path) -> None:
    """Copy links and competition to a mirror, so that it can be served as it is, with the same links."""
    for name in (LINKS, COMPETITION):
        if (folder / name).is_file():
            write_own(mirror / name, (folder / name).read_bytes())


def load_kept(folder: Path) -> Bundle | None:
    """Give the competition that was kept, None when there is none that can be read."""
    try:
        return _bundle_of((folder / COMPETITION).read_bytes())
    except OSError:
        return None


def _bundle_of(data: bytes) -> Bundle | None:
    try:
        return Bundle.of_data(orjson.loads(data))
    except (ValueError, KeyError, TypeError):
        return None


def write_own(path: Path, data: bytes) -> None:
    """Write a file that only its owner may read, whole or not at all; a full disk, say, is logged and stops nothing."""
    try:
        write_private(path, data)
    except OSError as exc:
        _log.warning("cannot write %s (%s): the export lacks it", path, exc.strerror)


def take_in(recording: CheckedRecording, folder: Path, *, received_unix_ms: int) -> int:
    """Write the facts of a recording to the journal of a new data folder; give how many were written.

    A journal that has lines is gone on with, if it begins with those facts: the same command starts it again. Raises
    JournalFailed when it is another one.
    """
    make_data_folder(folder)
    bodies = [line for line in recording.lines if not line.startswith(_REFUSED)]
    path = folder / JOURNAL
    return asyncio.run(_take_in(path, bodies, recording.mode, received_unix_ms))


async def _take_in(path: Path, bodies: list[bytes], mode: str, received_unix_ms: int) -> int:
    journal = SqliteJournal.open(path)
    try:
        there = [line.body for line in journal.read() if line.refusal is None]
        if there[: len(bodies)] != bodies[: len(there)]:
            raise JournalFailed(
                f"found other facts in the journal {path}, expected those of the file: name a new --data"
            )
        journal.set_note("mode", mode)
        rest = bodies[len(there) :]
        facts = [read_fact(orjson.loads(body)) for body in rest]
        drafts = [
            Draft(sender=fact.sender, sequence=fact.sequence, body=body) for fact, body in zip(facts, rest, strict=True)
        ]
        await journal.append(drafts, received_unix_ms=received_unix_ms)
        return len(drafts)
    finally:
        await journal.close()
