"""A real nginx, set up as docs/arena.conf shows, in front of a writer, one that stands by, and an edge."""

from __future__ import annotations

import json
import shutil
import signal
import socket
import ssl
import subprocess
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
import trustme
from websockets.exceptions import WebSocketException
from websockets.sync.client import connect

from e2e.blast import competition
from e2e.processes import tallywire
from e2e.sender import Sender
from e2e.test_take_over import Arena, until
from shell.redis_servers import free_port, redis_server

pytestmark = [pytest.mark.slow, pytest.mark.long]
CONFIGURATION = Path(__file__).parents[2] / "docs" / "arena.conf"
NAME = "scores.example"
OPTIONS = ("--allow-host", NAME, "--trusted-proxy", "127.0.0.1")


class OneAddress:
    """The address that everybody uses."""

    def __init__(self, port: int, context: ssl.SSLContext) -> None:
        self.port = port
        self.context = context

    def get(self, path: str, *, key: str = "") -> dict[str, Any]:
        """Ask by the one address."""
        headers = {"Host": f"{NAME}:{self.port}"} | ({"Authorization": f"Bearer {key}"} if key else {})
        asked = urllib.request.Request(f"https://127.0.0.1:{self.port}{path}", headers=headers)
        with urllib.request.urlopen(asked, context=self.context, timeout=10) as answer:
            said: dict[str, Any] = json.loads(answer.read())
            return said

    def tap(self, sequence: int, key: str) -> int:
        """Connect as a pad does, send one fact, and give the watermark that was acknowledged."""
        address = f"wss://{NAME}:{self.port}/wire"
        at = socket.create_connection(("127.0.0.1", self.port))
        with connect(address, sock=at, ssl=self.context, compression=None, proxy=None) as wire:
            hello = {"type": "hello", "role": "lane", "lane": 1, "sender": "lane-1-a", "key": key}
            wire.send(json.dumps(hello))
            assert json.loads(wire.recv(timeout=10))["type"] == "welcome"
            fact = {"fact": "rep_counted", "id": f"lane-1-a.{sequence}", "heat": "h1", "at_ms": 0, "lane": 1}
            facts = [{**fact, "sender": "lane-1-a", "sequence": sequence}]
            wire.send(json.dumps({"type": "facts", "facts": facts}))
            while (said := json.loads(wire.recv(timeout=10)))["type"] != "acknowledged":
                pass
            return int(said["watermark"])


@contextmanager
def nginx(folder: Path, ports: dict[str, int]) -> Iterator[OneAddress]:
    """Run nginx with the example, on ports of its own and with a certificate of the test's."""
    authority = trustme.CA()
    certificate = authority.issue_cert(NAME, "127.0.0.1")
    certificate.cert_chain_pems[0].write_to_path(folder / "certificate.pem")
    certificate.private_key_pem.write_to_path(folder / "key.pem")
    text = CONFIGURATION.read_text(encoding="utf-8")
    for shown, port in ports.items():
        assert shown in text
        text = text.replace(f":{shown}", f":{port}").replace(f"listen {shown}", f"listen 127.0.0.1:{port}")
    (folder / "nginx.conf").write_text(text, encoding="utf-8")
    program = shutil.which("nginx", path="/usr/sbin:/usr/local/sbin:/usr/bin:/opt/homebrew/bin")
    assert program is not None, "found no nginx, expected that of the system: tests/run installs it"
    settings = f"daemon off; master_process off; pid {folder}/nginx.pid;"
    command = [program, "-p", str(folder), "-c", str(folder / "nginx.conf"), "-e", "stderr", "-g", settings]
    context = ssl.create_default_context()
    authority.configure_trust(context)
    with subprocess.Popen(command) as process:
        try:
            yield OneAddress(ports["8443"], context)
        finally:
            process.send_signal(signal.SIGTERM)


def test_everybody_goes_on_by_the_same_address(tmp_path: Path) -> None:
    """Pads and pages by one address, before and after the writer is killed, and after the edge is."""
    ports = {shown: free_port() for shown in ("8401", "8402", "8403", "8443")}
    with redis_server(tmp_path / "redis") as redis, nginx(tmp_path, ports) as one:
        arena = Arena(redis, tmp_path, competition(tmp_path))
        try:
            go_on(arena, one, ports)
        finally:
            arena.close()


def go_on(arena: Arena, one: OneAddress, ports: dict[str, int]) -> None:
    """Tap, kill the writer, tap; kill the edge, look."""
    writer = arena.start(*OPTIONS, port=ports["8401"])
    server = arena.lead(writer)
    key, table = server.key("lane pad 1"), server.key("scoring table")
    other = arena.start("--standby", *OPTIONS, port=ports["8402"])
    other.until_said("standing by at")
    command = tallywire("edge", "--redis", arena.redis.url, "--port", str(ports["8403"]), *OPTIONS)
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as edge:
        assert edge.stdout is not None
        assert "an edge" in edge.stdout.readline()
        call(server.port, table)
        assert one.tap(1, key) == 1
        until(lambda: one.get("/snapshot/heat?heat=h1")["frame"]["lanes"]["1"]["done"] == 1)
        assert "behind_ms" in one.get("/health")["journal"], "the edge answers"
        assert one.get("/links", key=table)["lanes"] == list(range(1, 9)), "the writer answers"
        writer.process.kill()
        tapped: list[int] = []
        until(lambda: tried(lambda: tapped.append(one.tap(2, key))), other.log.read_text)
        assert tapped == [2]
        until(lambda: one.get("/snapshot/heat?heat=h1")["frame"]["lanes"]["1"]["done"] == 2)
        edge.kill()
    until(lambda: tried(lambda: one.get("/health")))
    assert one.get("/health")["journal"]["epoch"] == 2, "the writer answers for the edge"


def call(port: int, key: str) -> None:
    """Call the heat to the floor, so that its lanes may count."""
    table = Sender(port, "table-a", key)
    table.say("heat_called", unix_ms=time.time_ns() // 1_000_000)
    table.close()


def tried(act: Any) -> bool:
    """Try something that may not work yet."""
    with suppress(OSError, WebSocketException, AssertionError, EOFError, TimeoutError):
        act()
        return True
    return False
