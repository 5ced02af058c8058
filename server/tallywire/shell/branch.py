"""What can be rehearsed: recordings, and the journals of servers, which are read and left as they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tallywire.core.facts import Fact
from tallywire.shell.export import export
from tallywire.shell.files import held_in, load_recording
from tallywire.wire.checked_recording import Bundle, read_checked
from tallywire.wire.recording import read_lines


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """The facts of a recording, and the competition if it holds one."""

    path: Path
    facts: Sequence[Fact]
    competition: Bundle | None


def recorded(path: Path) -> Recorded:
    """Read a recording, or what the server of a data folder has until now. Raises BadFile, JournalFailed.

    A server that runs is asked for it, as an export does: nothing of it changes.
    """
    if not path.is_dir():
        return Recorded(path=path, facts=load_recording(path), competition=held_in(path))
    checked = read_checked(str(path), b"".join(export(path, refused=False)))
    return Recorded(path=path, facts=read_lines(str(path), checked.lines), competition=checked.competition)
