"""A whole heat as its crew works it, and every page a person works with at the sizes and with the eyes people have."""

from __future__ import annotations

import json
import re
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from e2e.processes import Served, served
from e2e.sender import Sender
from pages.crew import Table, competition, faults, indent, links, open_pads, row
from pages.floor import part
from pages.reuse import device

pytestmark = pytest.mark.slow

LANES = range(1, 11)
AWAY = 8
"""The lane whose pad has no network from before the false start is called back until after the restart."""


@dataclass(frozen=True, slots=True)
class Venue:
    """The server of the day and its data folder."""

    server: Served
    folder: Path

    def facts(self) -> list[dict[str, Any]]:
        """Give everything the record holds, in the order it came."""
        key = {"Authorization": f"Bearer {self.server.key('scoring table')}"}
        with urllib.request.urlopen(urllib.request.Request(f"{self.server.base}/recording", headers=key)) as answer:
            return [json.loads(line) for line in answer.read().splitlines()]


@pytest.fixture(scope="module")
def venue(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Venue]:
    """One server for the day."""
    folder = tmp_path_factory.mktemp("crew")
    (folder / "day.toml").write_text(competition(), encoding="utf-8")
    with served("serve", str(folder / "day.toml"), "--data", str(folder / "data"), "--port", "0") as server:
        yield Venue(server, folder / "data")


@pytest.fixture(scope="module")
def laptop(browser: Browser) -> Iterator[BrowserContext]:
    """The laptop of the table, whose pages may be looked into."""
    opened = device(browser, size=(1366, 768), bypass_csp=True)
    yield opened
    opened.close()


@pytest.mark.long
def test_a_heat_as_the_crew_works_it(
    browser: Browser, laptop: BrowserContext, venue: Venue, capsys: pytest.CaptureFixture[str]
) -> None:
    """From printed links to an amended result, with a false start, a lost phone, corrections and a penalty."""
    slips = links(venue.folder, capsys, "--make", "all", "--label", "Saturday")
    phone = device(browser, size=(360, 640), touch=True, bypass_csp=True)
    other = device(browser, size=(640, 360), touch=True, bypass_csp=True)
    pads = [open_pads(other if lane == AWAY else phone, [slips[f"lane pad {lane}"][1]])[0] for lane in LANES]
    table = Table(laptop.new_page())
    table.page.goto(slips["scoring table"][1])
    _call(table)
    _race(table, pads, touches=1)
    assert faults(pads[0]) == []
    assert max(abs(indent(pad)) for pad in (pads[0], pads[9])) < 2  # an Arabic name too: docs/look.md
    other.set_offline(True)
    expect(part(pads[AWAY - 1], "proof")).to_contain_text("no link")
    part(pads[AWAY - 1], "surface").tap()
    _call_back(table)
    _race(table, pads, touches=3, back=other)
    (renewed,) = links(venue.folder, capsys, "--renew", slips["lane pad 4"][0]).values()
    expect(part(pads[3], "ask")).to_contain_text("ask the scoring table")
    (replaced,) = open_pads(other, [renewed[1]])
    _count_on(table, replaced)
    _correct(table)
    _wait_for_the_cap(table)
    table.clicks = 0
    _sign(table)
    assert table.clicks <= 12
    _appeal(table)
    _is_in_the_record(venue.facts())
    _tells_the_story(laptop.new_page(), slips["scoring table"][1])
    for context in (phone, other):
        context.close()
    table.page.close()


def _call(table: Table) -> None:
    expect(part(table.page, "call")).to_be_enabled()
    table.click("call")
    expect(part(table.page, "ask-title")).to_have_text("Call Breakwater · Women to the floor?")
    table.answer()


def _race(table: Table, pads: list[Page], *, touches: int, back: BrowserContext | None = None) -> None:
    """Start, and touch every pad until the table has the number; the one without a network comes back then."""
    table.click("start")
    table.answer()
    expect(table.state).to_have_text("running")
    for lane, pad in zip(LANES, pads, strict=True):
        expect(part(pad, "ask")).to_have_text("")
        for _ in range(touches):
            part(pad, "surface").tap()
        if lane == AWAY and back is not None:
            back.set_offline(False)
        expect(part(row(table.page, lane), "count")).to_have_text(str(touches))


def _call_back(table: Table) -> None:
    table.click("recall")
    table.answer()
    expect(table.state).to_have_text("not started")
    for lane in LANES:
        expect(part(row(table.page, lane), "count")).to_have_text("0")


def _count_on(table: Table, pad: Page) -> None:
    expect(part(pad, "proof")).to_have_text("table 3")
    part(pad, "surface").tap()
    expect(part(row(table.page, 4), "count")).to_have_text("4")
    assert faults(pad) == []


def _correct(table: Table) -> None:
    table.lane(1, "correct", Cumulative_number="5", Reason="scoresheet")
    table.lane(2, "correct", Cumulative_number="2", Reason="scoresheet")
    table.lane(3, "penalty", Reps="1", Seconds="0", Reason="lane fault")
    assert faults(table.page) == []


def _wait_for_the_cap(table: Table) -> None:
    """Half an hour of waiting is saved: the signal is entered an hour earlier, and every touch stands."""
    table.click(table.page.locator(".log-line", has_text="heat started").first.get_by_role("button"))
    table.answer(Reason="the signal was earlier")
    table.click("start")
    table.answer(Seconds_since_the_signal="3600")
    expect(table.state).to_have_text("over")


def _sign(table: Table) -> None:
    table.click("sign")
    part(table.page, "sheets-by").fill("Hedda Judge")
    for lane in LANES:
        table.click(table.page.get_by_label(f"The sheet of lane {lane} agrees"))
    assert faults(table.page) == []
    table.click("sheets-yes")
    expect(part(table.page, "result")).to_have_text("Official: signed by Hedda Judge")


def _appeal(table: Table) -> None:
    table.lane(5, "correct", Cumulative_number="6", Reason="video")
    table.lane(5, "upheld", What_was_decided="three reps missed")
    table.click("sign")
    table.click("sheets-yes")
    expect(part(table.page, "result")).to_have_text("Amended: signed by Hedda Judge")


def _tells_the_story(page: Page, link: str) -> None:
    """The audit page has it all, in order; nothing else is in between that would have to be explained."""
    page.goto(link.replace("/table/", "/audit/").replace("#", "?heat=ten#"))
    expect(page.locator(".line").last).to_contain_text("The result is amended, signed by Hedda Judge.")
    told = [" ".join(line.split()) for line in page.locator(".line").all_inner_texts()]
    lines = iter(told)
    for words in (
        r"A device opened the lane pad 4\. lane-4-\w+ with lane pad 4 “Saturday”, link \w+",
        r"The scoring table called the heat to the floor\. table-\w+ with scoring table “Saturday”, link \w+",
        "The scoring table started the heat",
        r"The judge of lane 10 counted 1 rep for lane 10 .* at \d:\d\d.*; the start was false, so nothing of",
        "The scoring table called the heat back: false start; 11 facts of that start never count",
        "The scoring table started the heat again",
        "The judge of lane 8 counted 1 rep .* late, from a phone without a network; the start was false",
        "The judge of lane 10 counted 3 reps",
        r"The server cut off every device with a link that was taken back; link \w+ took its place",
        "A device opened the lane pad 4",
        "The scoring table set the count of lane 1 .* to 5: scoresheet",
        "The scoring table set the count of lane 2 .* to 2: scoresheet",
        "The scoring table gave lane 3 .* a penalty of 1 rep: lane fault",
        "The scoring table took back “started the heat”: the signal was earlier",
        "The scoring table started the heat again, by a signal 1:00:00 earlier",
        "noted that the scoresheet of lane 10 .* agrees, compared by Hedda Judge",
        "The scoring table had the result signed by Hedda Judge",
        "The scoring table set the count of lane 5 .* to 6: video",
        "The result is no longer the one that was signed",
        "noted the decision of Hedda Judge: the appeal about lane 5 .* is granted: three reps missed",
        "The scoring table had the result signed by Hedda Judge",
        "The result is amended, signed by Hedda Judge",
    ):
        assert any(re.search(words, line) for line in lines), f"{words}: {told}"
    assert faults(page) == []
    page.close()


def _is_in_the_record(facts: list[dict[str, Any]]) -> None:
    table = [each for each in facts if each["sender"].startswith("table-") and each["heat"] == "ten"]
    told = [each["fact"] for each in table if each["fact"] not in ("sheet_checked", "fact_voided")]
    assert told == [
        "heat_called",
        "heat_started",
        "heat_recalled",
        "heat_started",
        "count_corrected",
        "count_corrected",
        "penalty_given",
        "heat_started",
        "heat_signed",
        "count_corrected",
        "appeal_decided",
        "heat_signed",
    ]
    struck = [each["reason"] for each in table if each["fact"] == "fact_voided"]
    assert struck == ["the signal was earlier"]
    touches = [each for each in facts if each["fact"] == "rep_counted"]
    assert len(touches) == 10 * (1 + 3) + 1 + 1
    assert {each["sender"].rpartition("-")[0] for each in touches} == {f"lane-{lane}" for lane in LANES}
    assert len({each["sender"] for each in touches}) == 11  # lane 4 was counted on two phones


@pytest.fixture(scope="module")
def twenty(venue: Venue) -> None:
    """A heat of twenty lanes, with all that widens a row."""
    table = Sender(venue.server.port, "table-twenty", venue.server.key("scoring table"))
    for kind, lane, more in (
        ("heat_started", None, {"unix_ms": 1}),
        ("rep_counted", 1, {"at_ms": 60_000, "n": 7}),
        ("penalty_given", 3, {"reps": 2, "reason": "practice"}),
        ("hold_placed", 5, {}),
        ("withdrawn", 2, {}),
    ):
        table.say(kind, heat="twenty", **({} if lane is None else {"lane": lane}), **more)
    table.close()


SIZES = {"laptop": (1366, 768), "small": (1280, 720), "upright": (768, 1024), "twice as large": (683, 384)}
"""Windows in CSS pixels; the last is a laptop at 200 % (WCAG 2.2, 1.4.4 and 1.4.10)."""


@pytest.mark.usefixtures("twenty")
def test_twenty_lanes_are_within_reach(laptop: BrowserContext, venue: Venue) -> None:
    """All at once on a laptop; on a tablet and at 200 % the page scrolls, and no key is outside it."""
    page = laptop.new_page()
    page.goto(venue.server.links["scoring table"].replace("#", "?heat=twenty#"))
    expect(row(page, 20).get_by_role("button", name="Correct")).to_be_enabled()
    for name, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        room = part(page, "rows").bounding_box()
        assert room is not None
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth"), name
        if name in ("laptop", "small"):
            foot = page.locator(".log").bounding_box()
            assert foot is not None
            assert room["y"] + room["height"] <= foot["y"], name
        for button in ("call", "start", "recall", "end", "sign"):
            box = part(page, button).bounding_box()
            assert box is not None
            assert box["x"] >= 0 and box["x"] + box["width"] <= width, (name, button)
        for key in row(page, 20).get_by_role("button").all():
            key.scroll_into_view_if_needed()
            key.click(trial=True)
    assert faults(page) == []
    page.close()


def test_an_arabic_name_starts_where_the_others_do(browser: Browser, venue: Venue) -> None:
    """On the pad a name keeps its own direction and stands at the left edge like all others: docs/look.md."""
    phone = device(browser, size=(360, 640), touch=True)
    for pad in open_pads(phone, [venue.server.links[f"lane pad {lane}"] for lane in (1, 10)]):
        expect(part(pad, "name")).not_to_be_empty()
        assert abs(indent(pad)) < 2
    phone.close()


@pytest.mark.usefixtures("twenty")
@pytest.mark.parametrize("name", ["call", "gaps"])
def test_names_stay_readable_beside_every_figure(laptop: BrowserContext, venue: Venue, name: str) -> None:
    """Call and gap feed leave a name at least eight letters' room (em) at every size, without a fault for axe-core."""
    page = laptop.new_page()
    page.goto(f"{venue.server.base}/{name}/?heat=twenty")
    expect(page.locator("[data-part=row]")).to_have_count(19)  # one is on medical hold
    for size, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth"), size
        room = page.locator("[data-part=row] th").first.evaluate(
            "e => e.clientWidth / parseFloat(getComputedStyle(e).fontSize)"
        )
        assert room >= 8, size
        assert size not in ("laptop", "twice as large") or faults(page) == [], size
    page.close()


@pytest.mark.parametrize(("width", "height"), [(360, 640), (640, 360)])
def test_the_home_page_is_accessible_on_a_phone(laptop: BrowserContext, venue: Venue, width: int, height: int) -> None:
    """With everything the table's link shows, a phone held either way has no fault and no sideways scrolling."""
    page = laptop.new_page()
    page.set_viewport_size({"width": width, "height": height})
    page.goto(venue.server.links["home"])
    expect(page.locator(".link").first).to_be_visible()
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    assert faults(page) == []
    page.close()


@pytest.mark.usefixtures("twenty")
def test_every_page_keeps_inside_a_phone(laptop: BrowserContext, venue: Venue) -> None:
    """Table, desk, call, gap feed and audit scroll to the side in their tables alone; the audit page has no fault."""
    page = laptop.new_page()
    page.set_viewport_size({"width": 360, "height": 640})
    links = venue.server.links
    audit = links["audit"].replace("#", "?heat=twenty#")
    for address, there in (
        (links["scoring table"].replace("#", "?heat=twenty#"), "[data-part=row]"),
        (links["graphics desk"], "[data-part=preview]"),
        (links["the call"] + "?heat=twenty", "[data-part=row]"),
        (links["gap feed"] + "?heat=twenty", "[data-part=row]"),
        (audit, ".line"),
    ):
        page.goto(address)
        expect(page.locator(there).first).to_be_attached()
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth"), address
    assert faults(page) == []
    page.close()
