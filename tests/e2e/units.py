"""The units of docs/arena started as processes: what systemd would make of the few settings that they use."""

from __future__ import annotations

import os
import re
import shlex
import signal
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from e2e.one_address import ARENA, moved, nginx_program
from shell.redis_servers import binaries

TOOL = "/opt/tallywire/bin/tallywire"
UNITS = (
    "tallywire-redis",
    "tallywire-redis-replica",
    "tallywire-writer",
    "tallywire-standby",
    "tallywire-edge@8403",
    "tallywire-edge@8404",
    "tallywire-front",
)
PORTS = ("6379", "6380", "8401", "8402", "8403", "8404", "8443")


@dataclass(slots=True)
class Service:
    """A unit that runs; after a failure it is started again, as its `Restart=on-failure` says (systemd.service(5))."""

    command: Sequence[str]
    log: Path
    restart_s: float
    starts: int = 0
    process: subprocess.Popen[bytes] | None = None
    _stopped: threading.Event = field(default_factory=threading.Event)
    _thread: threading.Thread | None = None

    def start(self) -> None:
        """Run it until stopped."""
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        while not self._stopped.is_set():
            with self.log.open("ab") as log:
                self.process = subprocess.Popen(self.command, stdout=log, stderr=log)
            self.starts += 1
            if self.process.wait() == 0:
                return
            self._stopped.wait(self.restart_s)

    def kill(self) -> None:
        """Kill -9, as a pulled plug does to a process."""
        assert self.process is not None
        self.process.kill()

    def stop(self) -> None:
        """End it for good."""
        self._stopped.set()
        if self.process is not None:
            self.process.send_signal(signal.SIGTERM)
        if self._thread is not None:
            self._thread.join(20)
        if self.process is not None:
            self.process.kill()

    def go_on(self) -> None:
        """Start it after it was stopped, perhaps with another command."""
        self._stopped.clear()
        self.start()

    @property
    def said(self) -> str:
        """What it has printed and logged."""
        return self.log.read_text(encoding="utf-8") if self.log.exists() else ""


class Units:
    """All units of the example in a folder of the test's: its paths, ports and programs in the place of those shown."""

    def __init__(self, folder: Path, ports: Mapping[str, int]) -> None:
        self._folder = folder
        self._ports = ports
        self.etc = folder / "etc"
        for name in ("etc", "lib", "run", "log"):
            (folder / name).mkdir()
        for path in ARENA.glob("*.conf"):
            (self.etc / path.name).write_text(self.moved(path.read_text(encoding="utf-8")), encoding="utf-8")
        lines = self.moved((ARENA / "arena.env").read_text(encoding="utf-8")).splitlines()
        self._values = dict(line.split("=", 1) for line in lines if not line.startswith("#"))
        self.services = {name: self._service(name) for name in UNITS}

    def moved(self, text: str) -> str:
        """Give a text of the example with this test's places."""
        for shown, own in (("/etc/tallywire", "etc"), ("/var/lib/", "lib/"), ("/run/tallywire-front", "run")):
            text = text.replace(shown, f"{self._folder}/{own}")
        return moved(text, self._ports)

    def _service(self, name: str) -> Service:
        stem, _, instance = name.partition("@")
        path = ARENA / f"{stem}{'@' if instance else ''}.service"
        settings = dict(line.split("=", 1) for line in path.read_text(encoding="utf-8").splitlines() if "=" in line)
        assert settings["Restart"] == "on-failure"
        if "StateDirectory" in settings:
            (self._folder / "lib" / settings["StateDirectory"]).mkdir()
        words = shlex.split(self.moved(settings["ExecStart"].replace("%i", instance)))
        # The folders of a test are its owner's alone, who may be root; nginx's own user cannot read them.
        words = [word.replace("daemon off;", "daemon off; user root;") if os.geteuid() == 0 else word for word in words]
        words = [re.sub(r"\$\{(\w+)\}", lambda found: self._values[found[1]], word) for word in words]
        log = self._folder / "log" / name
        return Service([*program(words[0]), *words[1:]], log, float(settings["RestartSec"]))

    def close(self) -> None:
        """Stop everything, the last first."""
        for service in reversed(self.services.values()):
            service.stop()


def program(shown: str) -> list[str]:
    """Give the program of this machine for one that the example shows."""
    if shown == TOOL:
        return [sys.executable, "-m", "tallywire"]
    if shown == "/usr/bin/redis-server":
        servers = binaries()
        return [servers.get("system", servers["packaged"])]
    assert shown == "/usr/sbin/nginx"
    return [nginx_program()]
