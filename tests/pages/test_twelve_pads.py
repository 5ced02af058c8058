"""A floor of phones on a bad network: nothing is lost, nothing counts twice, and every touch has its time.

`tests/e2e/bad_network.py` stands between the pages and the server. The phones' clocks are up to 90 s off, drift by 50
ppm, and one is set in mid-heat; the true time of a touch is that of its event (DOM §2.2, `timeStamp`)
by the clock of this machine, which the server has as well.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from random import Random
from time import monotonic, time_ns
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from e2e.bad_network import BadNetwork, bad_network
from e2e.processes import PRACTICE, exported, served
from e2e.sender import Sender
from pages.floor import part, phone

pytestmark = pytest.mark.slow

WITHIN_MS = 20
_CLOCK = """
(() => {
  const [trueDate, trueNow] = [Date.now.bind(Date), performance.now.bind(performance)];
  const trueStamp = Object.getOwnPropertyDescriptor(Event.prototype, "timeStamp").get;
  const began = trueNow();
  window.offMs = OFF;
  const phone = (tick) => began + (tick - began) * (1 + PPM / 1e6);
  const wall = trueDate();
  Date.now = () => Math.floor(wall + phone(trueNow()) - began + window.offMs);
  performance.now = () => phone(trueNow());
  Object.defineProperty(Event.prototype, "timeStamp", { get() { return phone(trueStamp.call(this)); } });
  // Two clocks that are read one after the other are nearest to each other in the luckiest of many readings.
  const origin = Math.max(...Array.from({ length: 200 }, () => trueDate() - trueNow()));
  [window.taps, window.log] = [[], []];
  const note = (...what) => log.push([Math.round(trueNow()), ...what]);
  addEventListener("pointerdown", (event) => {
    taps.push(origin + trueStamp.call(event));
    note("touch", taps.length, document.querySelector("[data-part=surface]")?.dataset.kind);
  }, { capture: true });
  const { setItem } = Storage.prototype;
  Storage.prototype.setItem = function (key, text) {
    if (/\\.\\d+$/.test(key)) note("queued", text);
    setItem.call(this, key, text);
  };
  const { send } = WebSocket.prototype;
  WebSocket.prototype.send = function (text) {
    note("sent", text);
    if (!this.onNote) this.addEventListener("message", ({ data }) => note("heard", data.slice(0, 300)));
    this.onNote = true;
    send.call(this, text);
  };
})();
"""
"""A phone's own clocks: off by OFF milliseconds, too fast by PPM. `taps` has the true times of its touches, `log` what
the page did with each: touched, queued, sent, heard."""


@dataclass
class Phone:
    """One pad and its lane."""

    lane: int
    page: Page
    context: BrowserContext


def competition(folder: Path, lanes: int) -> Path:
    """Write a competition of so many lanes, and work for a long time."""
    head, _, rest = PRACTICE.partition("[[entry]]")
    head = re.sub(r"places = .*", f"places = {[100 - 5 * lane for lane in range(lanes)]}", head)
    entries = "".join(
        f'[[entry]]\nid = "e{lane}"\nname = "Norwood {lane}"\ndivision = "open"\n\n' for lane in range(1, lanes + 1)
    )
    rest = rest[rest.index("[[event]]") : rest.index("lanes = ")]
    line = ", ".join(f'{lane} = "e{lane}"' for lane in range(1, lanes + 1))
    path = folder / "floor.toml"
    path.write_text(f"{head}{entries}{rest}lanes = {{ {line} }}\n", encoding="utf-8")
    return path


def open_phones(browser: Browser, links: dict[str, str], backend: int, port: int, random: Random) -> list[Phone]:
    """Open a pad for each lane behind the bad network, each on a phone with clocks of its own."""
    phones = []
    for lane in range(1, sum(name.startswith("lane pad") for name in links) + 1):
        context = phone(browser)
        page = context.new_page()
        off, ppm = random.choice((-90_000, 90_000, 0)), random.choice((-50, 50))
        page.add_init_script(_CLOCK.replace("OFF", str(off)).replace("PPM", str(ppm)))
        page.goto(links[f"lane pad {lane}"].replace(f":{backend}/", f":{port}/"))
        phones.append(Phone(lane, page, context))
    for each in phones:
        expect(part(each.page, "surface")).to_have_attribute("data-kind", "tap", timeout=60_000)
    return phones


def race(phones: list[Phone], network: BadNetwork, *, lasts_s: float, away_s: float, random: Random) -> None:
    """Tap three times a second on each phone while lanes lose their network at random; set one clock half-way."""
    began, back, stepped = monotonic(), dict[int, float](), False
    turn = 0
    while (now := monotonic()) < began + lasts_s:
        network.away -= {lane for lane, until in back.items() if until <= now}
        if random.random() < 0.1 and len(network.away) < len(phones) // 2:
            lane = random.choice(phones).lane
            back[lane] = now + random.uniform(away_s / 4, away_s)
            network.away.add(lane)
        if not stepped and now > began + lasts_s / 2:
            phones[0].page.evaluate("() => { window.offMs += 90_000; }")
            stepped = True
        for each in phones:
            each.page.touchscreen.tap(180, 420)
        turn += 1
        # What the phones take is part of the third of a second.
        phones[0].page.wait_for_timeout(max(0.0, 1000 * (began + turn / 3 - monotonic())))
    # A connection that lives loses nothing by itself (RFC 9293 §3.4): what the proxy took out of one is over with it.
    network.calm = True
    network.away = {each.lane for each in phones}
    for each in phones:
        expect(part(each.page, "proof")).to_contain_text("no link", timeout=30_000)
    network.away = set()


@contextmanager
def told(phones: list[Phone], folder: Path) -> Iterator[None]:
    """When what follows fails, keep what each page did: a touch that is missing is found in one of these files."""
    try:
        yield
    except BaseException:
        for each in phones:
            log = each.page.evaluate("() => log.map((line) => line.join(' ')).join('\\n')")
            (folder / f"lane-{each.lane}.log").write_text(log, encoding="utf-8")
        print(f"what each page did stands in {folder}/lane-N.log")
        raise


def check(taps: dict[int, list[float]], facts: list[dict[str, Any]], start_ms: int) -> dict[str, float]:
    """Hold the journal against the true times of each lane's touches; give what was seen."""
    worst, uncertain = 0.0, 0
    for lane, touched in taps.items():
        own = [fact for fact in facts if fact["fact"] == "rep_counted" and fact["lane"] == lane]
        own.sort(key=lambda fact: int(fact["sequence"]))
        assert len({fact["sender"] for fact in own}) <= 1, lane  # nothing makes a pad begin its numbers anew
        assert [fact.get("n", 1) for fact in own] == [1] * len(touched), (lane, len(own), len(touched))
        assert len({fact["id"] for fact in own}) == len(own)
        for tap_ms, fact in zip(touched, own, strict=True):
            off = abs(fact["at_ms"] - (tap_ms - start_ms))
            assert off <= WITHIN_MS + fact["uncertain_ms"], (lane, off, fact)
            worst, uncertain = max(worst, off), max(uncertain, fact["uncertain_ms"])
    return {"worst_ms": round(worst, 1), "uncertain_ms": uncertain}


def test_the_check_can_fail() -> None:
    """A touch that is lost, one that counts twice, and one 31 ms off with 10 ms of doubt are each found."""
    good = [
        {
            "fact": "rep_counted",
            "lane": 1,
            "id": f"f{n}",
            "sender": "lane-1-a",
            "sequence": n,
            "at_ms": 1000 * n,
            "uncertain_ms": 10,
        }
        for n in (1, 2)
    ]
    taps = {1: [6_029.0, 7_000.0]}
    assert check(taps, good, 5_000)["worst_ms"] == 29
    for facts in (good[:1], [*good, {**good[1], "sequence": 3}], [{**good[0], "at_ms": 998}, good[1]]):
        with pytest.raises(AssertionError):
            check(taps, facts, 5_000)


@pytest.mark.alone
@pytest.mark.parametrize(
    ("lanes", "lasts_s", "away_s"),
    [pytest.param(4, 8.0, 4.0, id="short"), pytest.param(12, 300.0, 60.0, id="whole", marks=pytest.mark.long)],
)
def test_every_touch_counts_once_at_its_time(
    browser: Browser, tmp_path: Path, lanes: int, lasts_s: float, away_s: float
) -> None:
    """On every lane the count is that of its touches, each within 20 ms and what its phone says its time is off."""
    seed = time_ns() % 1_000_000
    print(f"seed {seed}")
    random, data = Random(seed), tmp_path / "data"
    with served("serve", str(competition(tmp_path, lanes)), "--data", str(data), "--port", "0") as server:
        table = Sender(server.port, "table-test", server.key("scoring table"))
        start_ms = time_ns() // 1_000_000
        table.say("heat_started", unix_ms=start_ms)
        table.close()
        with bad_network(server.port, seed) as (network, port):
            phones = open_phones(browser, server.links, server.port, port, random)
            race(phones, network, lasts_s=lasts_s, away_s=away_s, random=random)
            taps = {each.lane: each.page.evaluate("() => window.taps") for each in phones}
            with told(phones, tmp_path):
                for each in phones:
                    expect(part(each.page, "proof")).to_have_text(f"table {len(taps[each.lane])}", timeout=90_000)
                seen = check(taps, exported(data), start_ms)
        print(seen, dict(network.did))
        assert min(network.did[name] for name in ("dropped", "doubled", "reordered", "cut")) > 0 or lanes < 12
        for each in phones:
            each.context.close()
