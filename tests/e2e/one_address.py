"""A real nginx, set up as docs/arena/nginx.conf shows, and the one address that everybody then uses."""

from __future__ import annotations

import json
import re
import shutil
import signal
import socket
import ssl
import subprocess
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import trustme
from websockets.sync.client import connect

ARENA = Path(__file__).parents[2] / "docs" / "arena"
NAME = "scores.example"
OPTIONS = ("--allow-host", NAME, "--trusted-proxy", "127.0.0.1")


class OneAddress:
    """The address that everybody uses."""

    def __init__(self, port: int, context: ssl.SSLContext, *, pid: int = 0) -> None:
        self.port = port
        self.context = context
        self.pid = pid

    def get(self, path: str, *, key: str = "") -> dict[str, Any]:
        """Ask by the one address."""
        headers = {"Host": f"{NAME}:{self.port}"} | ({"Authorization": f"Bearer {key}"} if key else {})
        asked = urllib.request.Request(f"https://127.0.0.1:{self.port}{path}", headers=headers)
        with urllib.request.urlopen(asked, context=self.context, timeout=10) as answer:
            said: dict[str, Any] = json.loads(answer.read())
            return said

    def get_bytes(self, path: str) -> bytes:
        """Ask by the one address for bytes, as they are."""
        asked = urllib.request.Request(f"https://127.0.0.1:{self.port}{path}", headers={"Host": f"{NAME}:{self.port}"})
        with urllib.request.urlopen(asked, context=self.context, timeout=10) as answer:
            said: bytes = answer.read()
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


def certified(folder: Path) -> ssl.SSLContext:
    """Write a certificate of the test's and its key to a folder; give a context that trusts it."""
    authority = trustme.CA()
    certificate = authority.issue_cert(NAME, "127.0.0.1")
    certificate.cert_chain_pems[0].write_to_path(folder / "certificate.pem")
    certificate.private_key_pem.write_to_path(folder / "key.pem")
    context = ssl.create_default_context()
    authority.configure_trust(context)
    return context


def moved(text: str, ports: Mapping[str, int]) -> str:
    """Give a file of the example with ports of the test's own in the place of those shown."""
    for shown, port in ports.items():
        text = re.sub(rf"\b{shown}\b", str(port), text)
    return text


def nginx_program() -> str:
    """Give the system's nginx."""
    program = shutil.which("nginx", path="/usr/sbin:/usr/local/sbin:/usr/bin:/opt/homebrew/bin")
    assert program is not None, "found no nginx, expected that of the system: tests/run installs it"
    return program


@contextmanager
def nginx(folder: Path, ports: dict[str, int]) -> Iterator[OneAddress]:
    """Run nginx with the example, on ports of its own and with a certificate of the test's."""
    context = certified(folder)
    text = moved((ARENA / "nginx.conf").read_text(encoding="utf-8"), ports)
    (folder / "nginx.conf").write_text(text, encoding="utf-8")
    settings = f"daemon off; master_process off; pid {folder}/nginx.pid;"
    command = [nginx_program(), "-p", str(folder), "-c", str(folder / "nginx.conf"), "-e", "stderr", "-g", settings]
    with subprocess.Popen(command) as process:
        try:
            yield OneAddress(ports["8443"], context, pid=process.pid)
        finally:
            process.send_signal(signal.SIGTERM)
