"""A real server in a process of its own, kept on the servers' core, and the keys of its crew."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from tallywire.core.errors import TallywireError
from tallywire.measure.long_heat import long_file
from tallywire.measure.machine import kept_on, server_core

_STOP_S = 20
_LINK = re.compile(r"http://[0-9.]+:(?P<port>\d+)/(?P<page>\w+)/(\?lane=(?P<lane>\d+))?(#key=(?P<key>\S+))?")


@dataclass(frozen=True, slots=True)
class ServedHeat:
    """A server that listens: its process's number, its port, and the key of the table and of each lane's pad."""

    pid: int
    port: int
    table_key: str
    lane_keys: dict[int, str]


@contextmanager
def child(command: Sequence[str]) -> Iterator[tuple[int, IO[str]]]:
    """Run a process on the servers' core, give its number and what it prints, and stop it in the end.

    It keeps its bytecode, as an installed program has it: compiling every module would be a third of a start.
    """
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    with kept_on(server_core()):
        process = subprocess.Popen(  # noqa: S603
            command, stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True, env=env
        )
    assert process.stdout is not None  # noqa: S101
    try:
        yield process.pid, process.stdout
    finally:
        process.terminate()
        try:
            process.wait(_STOP_S)
        except subprocess.TimeoutExpired:
            process.kill()
        process.stdout.close()


@contextmanager
def served_heat(folder: Path, *, lanes: int, taps: int, guests: int = 1) -> Iterator[ServedHeat]:
    """Serve a long heat, with its journal in the folder, to so many guests of one address."""
    folder.mkdir(exist_ok=True)
    file = folder / "measured.toml"
    file.write_text(long_file(lanes=lanes, taps=taps), encoding="utf-8")
    options = ("--data", str(folder / "data"), "--port", "0", "--address-limit", str(max(256, guests)))
    with child([sys.executable, "-m", "tallywire", "serve", str(file), *options]) as (pid, printed):
        yield _listening(pid, printed)


def _listening(pid: int, printed: IO[str]) -> ServedHeat:
    """Read the links that a server prints, up to the line without one that follows them."""
    links: list[re.Match[str]] = []
    for line in printed:
        found = _LINK.search(line)
        if found:
            links.append(found)
        elif links:
            keys = {(each["page"], each["lane"]): each["key"] for each in links}
            lanes = {int(lane): key for (page, lane), key in keys.items() if page == "pad" and lane}
            return ServedHeat(pid, int(links[0]["port"]), keys["table", None], lanes)
    raise TallywireError("found a server that ended before it listened: its message stands above")
