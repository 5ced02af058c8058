"""A real server whose journal is on a real Redis: what pads and table see when that is killed in mid-heat."""

from __future__ import annotations

import json
import subprocess
import sys
import time
import urllib.request
from contextlib import ExitStack, closing
from pathlib import Path
from typing import Any

import pytest

from e2e.processes import Served, practice, served, tallywire
from e2e.test_full_disk import REP, SECOND, Pad, Small
from shell.redis_servers import redis_server
from tallywire.cli.main import main
from tallywire.shell.edges import load_for_edge
from tallywire.shell.export import load_kept
from tallywire.shell.journal.opening import RedisOptions

pytestmark = pytest.mark.slow


def health(server: Served) -> dict[str, Any]:
    """Give what the server says of itself."""
    with urllib.request.urlopen(f"{server.base}/health", timeout=30) as answer:
        said: dict[str, Any] = json.loads(answer.read())
        return said


def pads_of(server: Served, stack: ExitStack) -> tuple[Pad, Pad]:
    """Give the table, which has started the heat, and the first lane's pad."""
    keys = {name: link.partition("#key=")[2] for name, link in server.links.items()}
    at = Small(server.process, server.port, keys, Path())
    table = stack.enter_context(closing(Pad(at, "table-a", keys["scoring table"], role="table")))
    table.send(1, fact="heat_started", unix_ms=time.time_ns() // 1_000_000)
    table.hear("acknowledged")
    return table, stack.enter_context(closing(Pad(at, "lane-1-a", keys["lane pad 1"], role="lane", lane=1)))


def test_redis_killed_in_mid_heat(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """Pads and table hear of it within a second, keep their touches, and all is taken in order when it is back."""
    with redis_server(tmp_path / "redis") as redis:
        arguments = ("--data", str(tmp_path / "data"), "--port", "0", "--redis", redis.url)
        with served("serve", str(practice(tmp_path)), *arguments) as server, ExitStack() as stack:
            table, pad = pads_of(server, stack)
            pad.send(5, **REP)
            pad.hear("acknowledged", lambda said: bool(said["watermark"] == 5))
            began = time.monotonic()
            redis.kill()
            said = table.hear("storage", lambda heard: bool(heard["state"] == "held"))
            took = time.monotonic() - began
            assert "does not answer: touches are kept on this device" in said["message"]
            pad.send(5, **REP)
            pad.hear("storage", lambda heard: bool(heard["state"] == "held"))
            redis.start()
            pad.hear("acknowledged", lambda heard: bool(heard["watermark"] == 10))
            table.hear("storage", lambda heard: bool(heard["state"] == "ok"))
            journal = health(server)["journal"]
            # A machine that is very busy may have looked anew more than once.
            assert (journal["lines"], journal["epoch"] >= 2) == (11, True)
            exported = subprocess.run(tallywire("export", str(tmp_path / "data")), capture_output=True, check=True)
            assert exported.stdout.count(b'"rep_counted"') == 10
            # Beside other tests a busy machine may take longer; alone, with --long, it may not.
            assert took < (SECOND if request.config.getoption("--long") else 5 * SECOND)
        with served("serve", str(practice(tmp_path)), *arguments) as server:
            assert health(server)["journal"] == {"lines": 11, "epoch": journal["epoch"] + 1}


def test_redis_emptied_in_mid_heat(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """The running writer gives it facts, notes, links and what edges need anew: another server goes on with it."""
    with redis_server(tmp_path / "redis") as redis, ExitStack() as stack:
        arguments = ("serve", str(practice(tmp_path)), "--port", "0", "--redis", redis.url, "--lease", "1")
        with served(*arguments, "--data", str(tmp_path / "data")) as server:
            _, pad = pads_of(server, stack)
            pad.send(5, **REP)
            pad.hear("acknowledged", lambda said: bool(said["watermark"] == 5))
            with redis.client() as admin:
                admin.flushall()
            pad.send(5, **REP)
            pad.hear("acknowledged", lambda said: bool(said["watermark"] == 10))
            server.kill()
        assert main(["verify", "--redis", redis.url, "--salvage", str(tmp_path / "saved")]) == 0
        assert "11 lines, 11 sealed" in capfd.readouterr().out
        assert load_for_edge(RedisOptions(url=redis.url)) == load_kept(tmp_path / "saved")
        with served(*arguments, "--data", str(tmp_path / "other")) as other:
            at, key = Small(other.process, other.port, {}, Path()), server.key("lane pad 1")
            with closing(Pad(at, "lane-1-b", key, role="lane", lane=1)) as pad:
                pad.send(1, **REP)
                assert pad.hear("acknowledged")["tally"]["done"] == 11
            capfd.readouterr()
            assert main(["export", "--redis", redis.url]) == 0
        assert capfd.readouterr().out.count('"rep_counted"') == 11
    assert main(["export", str(tmp_path / "saved")]) == 0
    assert capfd.readouterr().out.count('"rep_counted"') == 10


def test_nothing_of_redis_is_loaded_without_the_option() -> None:
    """Serving with the embedded journal imports neither the client nor what is built on it."""
    code = (
        "import sys, tallywire.cli.live; sys.exit(any(set(n.split('.')) & {'redis', 'on_redis'} for n in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["--redis", "redis://127.0.0.1:1/0"], 3, "the journal's server 127.0.0.1:1/0 does not take facts"),
        (["--redis", "nowhere"], 2, 'found "nowhere" as the address of Redis'),
        (["--redis-replicas", "1"], 2, "found --redis-replicas alone, expected --redis with it"),
    ],
)
def test_a_redis_that_cannot_be_used_is_said_plainly(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], code: int, said: str
) -> None:
    """A wrong address, no server, or half of the options end in one message."""
    served_so = ["serve", str(practice(tmp_path)), "--data", str(tmp_path / "data"), "--port", "0", *arguments]
    assert main(served_so) == code
    heard = capsys.readouterr().err
    assert heard.count("\n") == 1
    assert said in heard
