"""What a process asks of the system, in order, and how to make the system answer otherwise: with `strace` (Linux)."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

SYNCS = ("fsync", "fdatasync", "msync")
_LINE = re.compile(r"^\d+\s+(?:<\.\.\. )?(\w+)")
_FILE = re.compile(r"sync\(\d+<([^>]+)>")
_PROCESS = re.compile(r"^(\d+)")


def can_trace() -> bool:
    """Tell whether this system has strace and lets it trace."""
    if shutil.which("strace") is None:
        return False
    return subprocess.run(["strace", "-o", "/dev/null", "true"], capture_output=True, check=False).returncode == 0


def tracing(out: Path, *calls: str, inject: Sequence[str] = (), path: Path | None = None) -> list[str]:
    """Give the command line to put before another: it notes these calls of all threads with 8 KiB of what they write.

    `inject` makes some of them end otherwise; with `path` only those on that file are noted and touched.
    """
    more = [word for each in inject for word in ("-e", f"inject={each}")] + (["-P", str(path)] if path else [])
    return ["strace", "-f", "-qq", "-y", "-s", "8192", "-o", str(out), "-e", f"trace={','.join(calls)}", *more]


@dataclass(frozen=True, slots=True)
class Call:
    """The begin or the end of a system call; a call that nothing came between is both."""

    name: str
    text: str
    begins: bool
    ends: bool


def calls_in(lines: Iterable[str]) -> list[Call]:
    """Read what strace wrote: in the order in which the calls began and ended, of all threads."""
    found, begun = [], dict[str, str]()
    for line in lines:
        match, process = _LINE.match(line), _PROCESS.match(line)
        if match is None or process is None:
            continue
        begins, ends = "resumed>" not in line, "<unfinished ...>" not in line
        if begins:
            begun[process[1]] = line
        # What a call was about is in its first half.
        found.append(Call(match[1], begun.get(process[1], line), begins, ends))
    return found


@dataclass(slots=True)
class Synced:
    """Which lines are on the disk for certain, by the calls so far. `ids` finds the lines in what is written."""

    ids: Callable[[str], Iterable[str]]
    _written: set[str] = field(default_factory=set)
    _syncing: set[str] = field(default_factory=set)
    certain: set[str] = field(default_factory=set)

    def take(self, call: Call) -> None:
        """Take the next call."""
        if "-wal>" not in call.text:
            return
        if call.name == "pwrite64" and call.ends:
            self._written.update(self.ids(call.text))
        if call.name == "fdatasync" and call.begins:
            self._syncing = set(self._written)
        if call.name == "fdatasync" and call.ends:
            self.certain |= self._syncing


def answered_too_early(
    calls: Iterable[Call], *, ids: Callable[[str], Iterable[str]], answers: Callable[[Call], Iterable[str]]
) -> tuple[int, list[str]]:
    """Give how many lines were answered, and those of them whose answer went out before their sync had returned."""
    synced, answered, early = Synced(ids), set[str](), []
    for call in calls:
        synced.take(call)
        if call.begins:
            now = set(answers(call)) - answered
            answered |= now
            early += sorted(now - synced.certain)
    return len(answered), early


def syncs_in(calls: Iterable[Call]) -> list[str]:
    """Give the names of the syncs in the order in which they began."""
    return [call.name for call in calls if call.name in SYNCS and call.begins]


def nth_of_its_name(names: Sequence[str], n: int) -> tuple[str, int]:
    """Give the name of the n-th sync (from 0), and which of that name it is, from 1: strace counts each name apart."""
    return names[n], names[: n + 1].count(names[n])


@dataclass(frozen=True, slots=True)
class Sync:
    """A sync: its call, the file it is about (None for msync: strace names none), and which of these it is.

    The file is that of the data folder, which is itself ".".
    """

    name: str
    path: Path | None
    number: int


def syncs_by_file(calls: Iterable[Call], folder: Path) -> list[Sync]:
    """Give the syncs of files of a folder in the order in which they began.

    A file is synced by one thread alone, so a number counts for it as strace counts, which is for each thread apart.
    """
    found, counts = [], Counter[tuple[str, Path | None]]()
    for call in calls:
        if call.name in SYNCS and call.begins:
            on = _FILE.search(call.text)
            about = (call.name, Path(on[1]).relative_to(folder) if on else None)
            counts[about] += 1
            found.append(Sync(*about, counts[about]))
    return found
