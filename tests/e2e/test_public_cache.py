"""A real nginx, set up as docs/arena/nginx.conf shows, between the public and a server: what the server is asked, how
late the public is, and the spectator page in Chromium over a slow link.
"""

from __future__ import annotations

import asyncio
import statistics
import threading
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, sync_playwright

from e2e.blast import LANES, competition
from e2e.browser import FLAGS
from e2e.one_address import NAME, OPTIONS, OneAddress, nginx
from e2e.processes import Served, served
from e2e.sender import Sender
from e2e.viewers import Audience, Seen
from shell.cut_link import CutLink
from shell.redis_servers import free_port

pytestmark = [pytest.mark.slow, pytest.mark.alone]
MOST_ASKED_A_SECOND = 5.0
MOST_BEHIND_S = 2.0
PAGE_BYTES, BYTES_A_SECOND, LEADER_S = 40_000, 2000, 3.0
TRIES = 3
LINK = {"offline": False, "latency": 400, "downloadThroughput": 50_000, "uploadThroughput": 50_000}
"""400 kbit/s and 400 ms, in the units of the DevTools protocol (bytes a second, ms)."""


class Counting(CutLink):
    """The way from the cache to the server, with what is asked on it."""

    def __init__(self, target: int) -> None:
        super().__init__(target)
        self.asked: Counter[str] = Counter()

    def passed(self, data: bytes) -> None:
        """Count requests by their path."""
        for line in data.split(b"\r\n"):
            if line.startswith(b"GET /"):
                path = line.split()[1].decode()
                self.asked["segment" if "/segments/" in path else path] += 1


class Heat:
    """A heat that runs: every lane counts a rep a second, and each is noted when it is acknowledged."""

    def __init__(self, server: Served) -> None:
        self.acknowledged: list[float] = []
        self._stop = threading.Event()
        table = Sender(server.port, "table-a", server.key("scoring table"))
        table.start_heat()
        table.close()
        self._pads = [
            Sender(server.port, f"lane-{lane}-a", server.key(f"lane pad {lane}"), lane=lane) for lane in LANES
        ]
        self._thread = threading.Thread(target=self._run)

    def __enter__(self) -> Heat:
        self._thread.start()
        return self

    def __exit__(self, *_exc: object) -> None:
        self._stop.set()
        self._thread.join()
        for pad in self._pads:
            pad.close()

    def _run(self) -> None:
        began, turn = time.monotonic(), 0
        while not self._stop.wait(max(0.0, began + turn / len(LANES) - time.monotonic())):
            lane = turn % len(LANES)
            self._pads[lane].say("rep_counted", lane=lane + 1, at_ms=round(1000 * (time.monotonic() - began)))
            self.acknowledged.append(time.monotonic())
            turn += 1


@contextmanager
def arena(folder: Path) -> Iterator[tuple[Served, Counting, OneAddress]]:
    """Run a server and the cache in front of it."""
    arguments = ("--data", str(folder / "data"), "--port", "0", "--print-links", *OPTIONS)
    with served("serve", str(competition(folder)), *arguments) as server:
        link = Counting(server.port)
        ports = {shown: free_port() for shown in ("8401", "8402", "8443")} | {"8403": link.port, "8404": link.port}
        try:
            with nginx(folder, ports) as one:
                yield server, link, one
        finally:
            link.close()


def behind(heat: Heat, seen: Seen) -> list[float]:
    """Give for each fact and viewer how long after its acknowledgement the viewer had a picture with it, in seconds."""
    found: list[float] = []
    for first in seen.first:
        looks = sorted((at, reps) for reps, at in first.items())
        for number, at in enumerate(heat.acknowledged, start=1):
            # Those before the viewer came, and after it left, tell nothing.
            had = next((look for look, reps in looks if reps >= number), None)
            if had is not None and looks[0][0] <= at:
                found.append(had - at)
    return found


def watched(folder: Path, *, viewers: int, seconds: float) -> tuple[Counting, Seen, list[float]]:
    """Let so many watch a running heat through the cache."""
    with arena(folder) as (server, link, one), Heat(server) as heat:
        time.sleep(1.0)
        link.asked.clear()
        seen = asyncio.run(Audience(NAME, one.port, one.context, viewers=viewers).watch(seconds))
        return link, seen, behind(heat, seen)


@pytest.mark.parametrize(
    ("viewers", "seconds"), [(200, 6.0), pytest.param(2000, 60.0, marks=pytest.mark.long)], ids=["200", "2000"]
)
def test_the_server_is_asked_as_if_by_one(tmp_path: Path, viewers: int, seconds: float) -> None:
    """However many look once a second, the server is asked five times a second at most, and they are two seconds behind
    at most, which is the delay of the feed and the second between two looks.
    """
    link, seen, late = watched(tmp_path, viewers=viewers, seconds=seconds)
    asked = link.asked.total() / seconds
    half, most = statistics.median(late), quantile(late, 0.99)
    print(
        f"{viewers} viewers, {seen.lists / seconds:.0f} lists and {seen.segments / seconds:.1f} segments a second; the "
        f"server was asked {asked:.2f} a second ({dict(link.asked)}); {len(late)} times a fact was seen, half within "
        f"{half:.2f} s, 99 % within {most:.2f} s, all within {max(late):.2f} s; "
        f"{seen.bytes_in / viewers / seconds:.0f} bytes a viewer and second; {seen.statuses}"
    )
    assert seen.statuses.keys() == {200}
    assert seen.lists >= 0.8 * viewers * seconds, "the viewers were as many as they should be"
    assert asked <= MOST_ASKED_A_SECOND
    assert half <= MOST_BEHIND_S
    assert most <= MOST_BEHIND_S
    # A machine that does other work as well may be late with a few: --long is for one that does not.
    assert viewers < 2000 or max(late) <= MOST_BEHIND_S


def quantile(values: Sequence[float], share: float) -> float:
    """Give the value that this share of all does not exceed."""
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


def test_the_page_is_light_on_a_slow_link(tmp_path: Path, pytestconfig: pytest.Config) -> None:
    """Over 400 kbit/s and 400 ms the leader is there in three seconds; the page has 40 kB, and then 2 kB a second."""
    with arena(tmp_path) as (server, _link, one), Heat(server), sync_playwright() as playwright:
        time.sleep(2.0)
        flags = [*FLAGS, f"--host-resolver-rules=MAP {NAME} 127.0.0.1"]
        with playwright.chromium.launch(executable_path="/usr/bin/chromium", args=flags) as browser:
            # Another process of a shared machine makes a page slow, never fast: the best of a few counts.
            for left in reversed(range(TRIES)):
                page = browser.new_context(viewport={"width": 360, "height": 640}, ignore_https_errors=True).new_page()
                weighed = Weighed(page)
                leader_s = seconds_to_leader(page, one.port)
                loaded = weighed.total
                if leader_s <= LEADER_S:
                    break
                assert left, f"found the leader after {leader_s:.2f} s, expected {LEADER_S} s"
            page.wait_for_timeout(2000)
            first, since = weighed.total, time.monotonic()
            page.wait_for_timeout(30_000 if pytestconfig.getoption("--long") else 5000)
            rate = (weighed.total - first) / (time.monotonic() - since)
        print(
            f"leader after {leader_s:.2f} s and {loaded} bytes, {first} bytes in all when it is whole, then {rate:.0f} "
            f"bytes a second; {len(weighed.by_url)} requests"
        )
        assert first <= PAGE_BYTES
        assert rate <= BYTES_A_SECOND
        assert {url.split("/public/")[0] for url in weighed.by_url} == {f"https://{NAME}:{one.port}"}


def seconds_to_leader(page: Page, port: int) -> float:
    """Open the page and wait until it shows who leads; gives how long that took."""
    began = time.monotonic()
    page.goto(f"https://{NAME}:{port}/public/", wait_until="commit")
    page.wait_for_selector("[data-part=lanes] [data-look=leading]", timeout=30_000)
    return time.monotonic() - began


class Weighed:
    """What a page loads over a slow link: heads and bodies as transferred (Network.loadingFinished)."""

    def __init__(self, page: Page) -> None:
        self.total = 0
        self.by_url: list[str] = []
        session = page.context.new_cdp_session(page)
        session.on("Network.loadingFinished", self._finished)
        session.on("Network.requestWillBeSent", lambda said: self.by_url.append(said["request"]["url"]))
        session.send("Network.enable")
        session.send("Network.emulateNetworkConditions", LINK)

    def _finished(self, said: Any) -> None:
        self.total += int(said["encodedDataLength"])
