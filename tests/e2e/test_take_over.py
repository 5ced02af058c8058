"""Two servers on one Redis under eight senders: one is killed, stopped, or to hand over, and the other goes on."""

from __future__ import annotations

import asyncio
import signal
import subprocess
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import pytest

from e2e.blast import Blast, competition, faults
from e2e.edges import Edge, edge, until_frame
from e2e.processes import Served, _links, tallywire
from e2e.test_kills import folded, folded_heat, shown
from shell.redis_servers import RedisServer, free_port, redis_server
from tallywire.cli.main import main
from tallywire.shell.journal.on_redis.client import Place, RedisClient
from tallywire.shell.journal.on_redis.follower import LINES, STANDBY, Follower
from tallywire.shell.journal.port import Line
from tallywire.wire.trusted_lines import trusted_fact

pytestmark = pytest.mark.slow
LEASE_S = 3.0
"""The default."""
PATIENCE_S = 60.0


@dataclass(slots=True)
class Arena:
    """A Redis server, and the servers on it; `links` are those that the first one printed, whose keys go on."""

    redis: RedisServer
    folder: Path
    file: Path
    links: dict[str, str] = field(default_factory=dict)
    took_s: list[float] = field(default_factory=list)
    _open: list[subprocess.Popen[str]] = field(default_factory=list)

    def start(self, *more: str, port: int = 0) -> Machine:
        """Start a server on a data folder of its own, and on a port of its own unless one is given."""
        number, port = len(self._open), port or free_port()
        log = self.folder / f"{number}.log"
        arguments = ("--data", str(self.folder / f"data-{number}"), "--port", str(port), "--redis", self.redis.url)
        command = tallywire("serve", str(self.file), *arguments, *more)
        with log.open("wb") as errors:
            process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=errors, text=True)
        self._open.append(process)
        return Machine(process=process, port=port, log=log)

    def lead(self, machine: Machine) -> Served:
        """Wait until a machine has printed that it serves, and give it under the keys of the first."""
        links = _links(machine.process)
        self.links = self.links or links
        old = self.links["venue board"].split("/")[2]
        moved = {page: link.replace(old, f"127.0.0.1:{machine.port}") for page, link in self.links.items()}
        return Served(machine.process, moved)

    def close(self) -> None:
        """Kill every process, and read what they left."""
        for process in self._open:
            process.kill()
            process.communicate(timeout=PATIENCE_S)

    def lines(self) -> list[Line]:
        """Give all lines, once stream, state and watermarks were checked, and their epochs never fall."""
        with closing(RedisClient(Place(url=self.redis.url))) as client:
            Follower().check(client)
            lines = Follower().take(client, limit=10_000_000)
        with self.redis.client() as own:
            epochs = [int(name.partition(b"-")[2]) for name, _ in own.xrange(LINES)]
        assert epochs == sorted(epochs)
        return lines


@dataclass(frozen=True, slots=True)
class Machine:
    """One server process."""

    process: subprocess.Popen[str]
    port: int
    log: Path

    @property
    def stands(self) -> int:
        """How often it has stood by."""
        return self.log.read_text().count("standing by at")

    @property
    def reigns(self) -> int:
        """How often it has become the writer."""
        return self.log.read_text().count("is written under epoch")

    def until_said(self, text: str) -> None:
        """Wait until its log says something."""
        until(lambda: text in self.log.read_text(), self.log.read_text)

    def answers(self) -> bool:
        """Tell whether it answers."""
        with suppress(OSError), urllib.request.urlopen(f"http://127.0.0.1:{self.port}/health", timeout=5):
            return True
        return False


def until(true: Callable[[], bool], why: Callable[[], str] = lambda: "") -> None:
    """Wait until something is true."""
    deadline = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < deadline, why()
        time.sleep(0.02)


@contextmanager
def arena(folder: Path) -> Iterator[Arena]:
    """Give an arena with a Redis server that syncs each command."""
    with redis_server(folder / "redis") as redis, closing(Arena(redis, folder, competition(folder))) as made:
        yield made


def taken_over(arena: Arena, end: Callable[[], object], other: Machine) -> None:
    """Do what ends the writer, and note how long it takes until the other answers."""
    began = time.monotonic()
    end()
    until(other.answers, other.log.read_text)
    arena.took_s.append(time.monotonic() - began)


def test_a_standby_takes_over(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """Killed, stopped for longer than its lease, or asked to: nothing acknowledged is lost or doubled, and each view
    is the fold of the stream.
    """
    is_long = request.config.getoption("--long")
    kills, stops = (50, 20) if is_long else (1, 0)
    blast = Blast()
    with arena(tmp_path) as here, ExitStack() as stack:
        writer, other = here.start(), here.start("--standby")
        server = here.lead(writer)
        watching = stack.enter_context(edge(here.redis.port))
        for how in [*[signal.SIGKILL] * kills, *[signal.SIGSTOP] * stops, None]:
            other.until_said("standing by at")
            reigns, stood = other.reigns, writer.stands
            asyncio.run(blast.until_killed(server, facts=200, kill=partial(end_writer, here, writer, other, how)))
            until(lambda: other.reigns > reigns, other.log.read_text)  # noqa: B023
            server = here.lead(other)
            check_view(server, watching, here, blast)
            writer, other = other, here.start("--standby") if how is signal.SIGKILL else resumed(writer, stood)
        assert not is_long or sorted(here.took_s)[int(0.95 * len(here.took_s))] <= LEASE_S + 1, here.took_s


def end_writer(arena: Arena, writer: Machine, other: Machine, how: signal.Signals | None) -> None:
    """End the writer's reign by a signal, or by asking it to hand over."""
    if how is not None:
        taken_over(arena, lambda: writer.process.send_signal(how), other)
    else:
        with arena.redis.client() as own:
            until(lambda: bool(own.exists(STANDBY)), other.log.read_text)
        command = tallywire("handover", "--redis", arena.redis.url)
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        assert "is written under epoch" in done.stdout
    if how is signal.SIGSTOP:
        writer.process.send_signal(signal.SIGCONT)


def resumed(writer: Machine, stood: int) -> Machine:
    """Give the former writer once it stands by: once more than before."""
    until(lambda: writer.stands > stood, writer.log.read_text)
    return writer


def check_view(server: Served, watching: Edge, arena: Arena, blast: Blast) -> None:
    """Check that all that was acknowledged is there once, in order, and that the new writer and an edge that has been
    there from the beginning show the fold of it.
    """
    lines = arena.lines()
    assert faults(blast.acknowledged, lines) == []
    facts = [trusted_fact(each.body) for each in lines if each.refusal is None]
    seen, expected = shown(server), folded(arena.file, facts)
    # A live frame says more than a fold: which heat is on the floor, whether its lanes are open.
    assert {key: seen[key] for key in expected} == expected
    expected = folded_heat(arena.file, facts)
    until_frame(watching.port, lambda frame: {key: frame.get(key) for key in expected} == expected)


def test_a_handover_without_a_standby_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The writer stays where it is, and the message says what to start."""
    with redis_server(tmp_path / "redis") as redis:
        assert main(["handover", "--redis", redis.url]) == 2
    assert "found no server that stands by" in capsys.readouterr().err
