"""The arena of docs/arena, as its files have it: two servers, Redis with a replica, two edges, nginx."""

from __future__ import annotations

import gzip
import json
import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, suppress
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from redis import Redis
from websockets.exceptions import WebSocketException

from e2e.blast import competition
from e2e.one_address import ARENA, NAME, OneAddress, certified
from e2e.processes import _LINK
from e2e.sender import Sender
from e2e.test_take_over import until
from e2e.units import PORTS, TOOL, Units
from shell.redis_servers import free_port
from tallywire.cli.main import main

pytestmark = pytest.mark.slow


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="found no systemd on this machine")
def test_systemd_takes_the_units(tmp_path: Path) -> None:
    """`systemd-analyze verify` has nothing to say of them, and something of a unit with a word that is none."""
    for path in ARENA.glob("*.service"):
        text = path.read_text(encoding="utf-8").replace(TOOL, sys.executable)
        (tmp_path / path.name).write_text(text.replace("/usr/bin/redis-server", sys.executable), encoding="utf-8")
    units = sorted(tmp_path.glob("*.service"))
    assert len(units) == 6
    assert verified(units) == ""
    units[0].write_text(units[0].read_text(encoding="utf-8").replace("Restart=", "Restarts="), encoding="utf-8")
    assert "'Restarts' in section [Service]" in verified(units)


def verified(units: list[Path]) -> str:
    """Give what systemd says of units."""
    command = ["systemd-analyze", "verify", "--man=no", *map(str, units)]
    return subprocess.run(command, capture_output=True, text=True, check=False).stderr


@pytest.fixture
def arena(tmp_path: Path) -> Iterator[tuple[Units, OneAddress, dict[str, int]]]:
    """Start every unit at once, as machines do that are switched on."""
    ports = {shown: free_port() for shown in PORTS}
    units = Units(tmp_path, ports)
    with closing(units):
        competition(units.etc).rename(units.etc / "competition.toml")
        context = certified(units.etc)
        for service in units.services.values():
            service.start()
        yield units, OneAddress(ports["8443"], context), ports


def works(act: Callable[[], object]) -> bool:
    """Try something that may not work yet."""
    with suppress(OSError, WebSocketException, AssertionError, EOFError, TimeoutError, ValueError):
        act()
        return True
    return False


def links_of(units: Units) -> dict[str, str]:
    """Give the keys that the first writer printed, by page."""
    said = units.services["tallywire-writer"].said.splitlines()
    return {found[1].strip(): found[2].partition("#key=")[2] for line in said if (found := _LINK.match(line))}


def test_an_arena_of_files(arena: tuple[Units, OneAddress, dict[str, int]], request: pytest.FixtureRequest) -> None:
    """Switched on together they find each other; the public gets the same from both edges through the cache; the writer
    is killed, the other goes on, and the killed one is started again and stands by; so is an edge.
    """
    units, one, ports = arena
    writer, standby, edge = (units.services[f"tallywire-{name}"] for name in ("writer", "standby", "edge@8403"))
    until(lambda: works(lambda: one.get("/health/writer")), lambda: writer.said)
    until(lambda: "standing by at" in standby.said, lambda: standby.said)
    for port in (ports["8403"], ports["8404"]):
        until(lambda port=port: works(lambda: asked(port, "/health")), lambda: edge.said)  # type: ignore[misc]
    keys = links_of(units)
    table = Sender(ports["8401"], "table-a", keys["scoring table"])
    table.start_heat()
    table.close()
    assert one.tap(1, keys["lane pad 1"]) == 1
    until(lambda: seen(one) == 1)
    assert one.get("/links", key=keys["scoring table"])["lanes"] == list(range(1, 9)), "the writer answers"
    check_public(one, ports, seconds=45 if request.config.getoption("--long") else 1.5, key=keys["lane pad 2"])
    starts = writer.starts
    writer.kill()
    tapped: list[int] = []
    until(lambda: works(lambda: tapped.append(one.tap(2, keys["lane pad 1"]))), lambda: standby.said)
    assert tapped == [2]
    until(lambda: seen(one) == 2)
    until(lambda: "standing by at" in writer.said, lambda: writer.said)
    assert writer.starts == starts + 1
    starts = edge.starts
    edge.kill()
    assert seen(one) == 2, "the other edge answers"
    until(lambda: works(lambda: asked(ports["8403"], "/health")) and edge.starts > starts, lambda: edge.said)
    assert one.get("/health/writer")["journal"]["epoch"] >= 2


@pytest.mark.long
def test_the_first_redis_is_lost(arena: tuple[Units, OneAddress, dict[str, int]]) -> None:
    """As docs/scale.md says: the replica is promoted, both servers are started on it without a second replica, and all
    goes on: every fact, the links, and the edges, which were never started again.
    """
    units, one, ports = arena
    writer, standby, edge = (units.services[f"tallywire-{name}"] for name in ("writer", "standby", "edge@8404"))
    until(lambda: works(lambda: one.get("/health/writer")), lambda: writer.said)
    until(lambda: works(lambda: asked(ports["8404"], "/health")), lambda: edge.said)
    keys, starts = links_of(units), edge.starts
    table = Sender(ports["8401"], "table-a", keys["scoring table"])
    table.start_heat()
    table.close()
    assert one.tap(1, keys["lane pad 1"]) == 1
    units.services["tallywire-redis"].stop()
    until(lambda: "does not answer" in writer.said, lambda: writer.said)
    with Redis(port=ports["6380"]) as replica:
        replica.replicaof("NO", "ONE")
    for service in (writer, standby):
        service.stop()
        service.command = on_the_replica(service.command, ports)
        service.go_on()
    tapped: list[int] = []
    until(lambda: works(lambda: tapped.append(one.tap(2, keys["lane pad 1"]))), lambda: writer.said + standby.said)
    assert tapped == [2]
    until(lambda: seen(one) == 2)
    assert edge.starts == starts
    assert one.get("/links", key=keys["scoring table"])["lanes"] == list(range(1, 9))
    assert main(["verify", "--redis", f"redis://127.0.0.1:{ports['6380']}/0"]) == 0


def on_the_replica(command: Sequence[str], ports: dict[str, int]) -> list[str]:
    """Give a server's command with the replica's address, and without waiting for another copy."""
    words = [word.replace(f":{ports['6379']}/", f":{ports['6380']}/") for word in command]
    at = words.index("--redis-replicas")
    return words[:at] + words[at + 2 :]


def seen(one: OneAddress) -> int:
    """Give the reps of the first lane by the one address."""
    return int(one.get("/snapshot/heat?heat=h1")["frame"]["lanes"]["1"]["done"])


def asked(port: int, path: str) -> bytes:
    """Ask a server itself, under the name that it has in the arena."""
    headers = {"Host": f"{NAME}:{port}", "Accept-Encoding": "gzip"}
    request = urllib.request.Request(f"http://127.0.0.1:{port}{path}", headers=headers)
    with urllib.request.urlopen(request, timeout=10) as answer:
        body: bytes = answer.read()
        return gzip.decompress(body) if answer.headers["Content-Encoding"] == "gzip" else body


def check_public(one: OneAddress, ports: dict[str, int], *, seconds: float, key: str) -> None:
    """Check for a while that what the cache gives and what each edge gives under one name are the same bytes.

    The end of a segment's name is the beginning of the SHA-256 (FIPS 180-4) of its bytes.
    """
    edges, names, moments = (ports["8403"], ports["8404"]), set[str](), dict[int, Any]()
    pad = Sender(ports["8401"], "lane-2-a", key, lane=2)
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        pad.say("rep_counted", lane=2)
        lists = [
            json.loads(one.get_bytes("/public/newest")),
            *(json.loads(asked(port, "/public/newest")) for port in edges),
        ]
        for said in lists:
            assert moments.setdefault(said["unix_ms"], said) == said, "one moment has one list"
            names.add(said["segment"])
        for name in names:
            body = one.get_bytes(f"/public/segments/{name}")
            assert sha256(body).hexdigest().startswith(name.partition("-")[2])
            assert all(asked(port, f"/public/segments/{name}") == body for port in edges)
    pad.close()
    assert len(moments) >= 2
    assert len(names) >= seconds // 20
