"""Real server processes for the end-to-end tests."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from io import BytesIO, TextIOWrapper
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from urllib.request import Request, urlopen

from tallywire.cli.main import main

_LINK = re.compile(r"^  (.+?)\s{2,}(https?://\S+)$")

PRACTICE = """
[competition]
name = "Practice Trials"

[[division]]
id = "open"
name = "Open"

[[points]]
id = "table"
places = [100, 90, 80, 70]

[[entry]]
id = "a"
name = "Asta Norwood"
division = "open"

[[entry]]
id = "b"
name = "Bo Ellingsen"
division = "open"

[[event]]
id = "long"
name = "Long Count"

[event.workout]
format = "for_time"
time_cap = "60:00"

[[event.workout.station]]
movement = "Step-over"
amount = 1000
touch_guard_ms = 0

[[heat]]
id = "h1"
name = "Heat 1"
event = "long"
lanes = { 1 = "a", 2 = "b" }
"""
"""Two lanes of a thousand reps: long enough for any number of taps."""


class Ended(AssertionError):
    """A server ended before it listened."""


def steer(link: str, do: str) -> None:
    """Steer a rehearsal by the link of its page, as the page does."""
    address, _, key = link.partition("/#key=")
    headers = {"Authorization": f"Bearer {key}", "Content-Type": "application/json"}
    urlopen(Request(address, json.dumps({"do": do}).encode(), headers)).close()


@dataclass(frozen=True, slots=True)
class Served:
    """A running server: its process and the links it printed, by page name."""

    process: subprocess.Popen[str]
    links: dict[str, str]

    @property
    def base(self) -> str:
        """The server's address."""
        parts = urlsplit(next(iter(self.links.values())))
        return f"{parts.scheme}://{parts.netloc}"

    @property
    def port(self) -> int:
        """The port it listens on."""
        return int(self.base.rsplit(":", 1)[1])

    def key(self, page: str) -> str:
        """The key in a page's link."""
        return self.links[page].partition("#key=")[2]

    def kill(self) -> None:
        """Kill -9, as a pulled plug does to a process."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(timeout=10)


def tallywire(*arguments: str) -> list[str]:
    """The command line that runs `tallywire` with these arguments."""
    return [sys.executable, "-m", "tallywire", *arguments]


@contextmanager
def served(*arguments: str) -> Iterator[Served]:
    """Start a server and stop it in the end; gives it once it has printed its links."""
    with served_with(*arguments) as server:
        yield server


@contextmanager
def served_with(
    *arguments: str,
    descriptors: int | None = None,
    under: Sequence[str] = (),
    first: str = "",
    **process_options: Any,
) -> Iterator[Served]:
    """The same with so many file descriptors at most (prlimit(1)), `under` a program.

    `first` is Python that runs before the program: what a mutant does otherwise. The rest goes to the process: where
    its standard error goes, its environment, its folder.
    """
    limited = [] if descriptors is None else ["prlimit", f"--nofile={descriptors}:{descriptors}"]
    program = tallywire(*arguments)
    if first:
        code = f"{first}; import sys; from tallywire.cli.main import main; sys.exit(main(sys.argv[1:]))"
        program = [sys.executable, "-c", code, *arguments]
    command = [*limited, *under, *program]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, **process_options)
    try:
        yield Served(process, _links(process))
    finally:
        if process.poll() is None:
            process.terminate()
            try:
                process.wait(timeout=20)
            except subprocess.TimeoutExpired:
                process.kill()
                raise
        if process.stdout is not None:
            process.stdout.close()


def practice(folder: Path) -> Path:
    """Write the practice competition."""
    path = folder / "practice.toml"
    path.write_text(PRACTICE, encoding="utf-8")
    return path


def _links(process: subprocess.Popen[str]) -> dict[str, str]:
    links: dict[str, str] = {}
    assert process.stdout is not None
    for line in process.stdout:
        found = _LINK.match(line.rstrip("\n"))
        if found:
            links[found[1].strip()] = found[2]
        elif links:
            return links
    raise Ended(f"the server ended with {process.wait()} before it listened")


@dataclass(frozen=True, slots=True)
class Done:
    """What a command wrote."""

    stdout: bytes
    stderr: bytes


def asked(*arguments: str | Path, code: int = 0) -> Done:
    """Run a command that serves nothing in this process, in a tenth of the time, and check its exit code."""
    streams = [TextIOWrapper(BytesIO(), encoding="utf-8", write_through=True) for _ in range(2)]
    with redirect_stdout(streams[0]), redirect_stderr(streams[1]):
        found = main(list(map(str, arguments)))
    out, err = (each.buffer.getvalue() for each in streams)
    assert found == code, err.decode()
    return Done(out, err)


def exported(data: Path) -> list[dict[str, object]]:
    """Give the facts of a journal. An export has a head and an end beside them."""
    return [line for line in map(json.loads, asked("export", data).stdout.splitlines()) if "fact" in line]
