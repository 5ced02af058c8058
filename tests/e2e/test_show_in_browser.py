"""A show in a real Chromium: rundown, keys, take, clear, automatic finish card, a killed server, a medical hold."""

from __future__ import annotations

import re
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from e2e.browser import chromium, open_page
from e2e.processes import Served, exported, served, tallywire
from e2e.sender import Sender
from e2e.show import changes_of_picture, clear, on_air, press, programme, said, sees, show_file, started, watch_picture

pytestmark = pytest.mark.slow

YIELD_MS = 12_500
"""So long the automatic mode stays back after an operator did something, and a little more."""


@dataclass(frozen=True, slots=True)
class Cast:
    """Those who work the show: the server and its table, the desk, and what is seen on the two outputs."""

    server: Served
    table: Sender
    desk: Page
    air: Page
    upright: Page

    def choose(self, title: str) -> None:
        """Prepare a view by its title."""
        said(self.desk, "views").get_by_role("button", name=re.compile(f"^{title}")).click()


@contextmanager
def show(tmp_path: Path, browser: Browser, *, hold_seconds: int = 60) -> Iterator[Cast]:
    """Run a heat in which lane 1 leads lane 2 by 7 reps to 4, with a desk and both outputs open."""
    with started(show_file(tmp_path, hold_seconds=hold_seconds), {1: 7, 2: 4}) as (server, table):
        air = open_page(browser, server.links["on air, output world"])
        upright = open_page(browser, server.links["on air, output upright"], width=1080, height=1920)
        desk = open_page(browser, server.links["graphics desk"], width=1366, height=768)
        expect(said(desk, "link")).to_have_text("Linked")
        expect(said(desk, "outputs").get_by_role("button")).to_have_count(2)
        yield Cast(server, table, desk, air, upright)


def work_the_rundown(cast: Cast) -> None:
    """Choose, take, and the next line is in hand; what is prepared is seen in the preview alone."""
    clear(cast.air)
    press(cast.desk, "ArrowDown")
    expect(said(cast.desk, "prepared")).to_have_text("The standing")
    expect(cast.desk.frame_locator("[data-part=preview-frame]").locator("[data-view=heat]")).to_be_visible()
    clear(cast.air)
    press(cast.desk, " ")
    expect(sees(cast.air, "heat")).to_contain_text("Asta Norwood")
    expect(said(cast.desk, "prepared")).to_have_text("One athlete · lane 2")
    press(cast.desk, " ")
    expect(sees(cast.air, "athlete")).to_contain_text("Bo Ellingsen")


def pick_and_clear(cast: Cast) -> None:
    """A lane by its number, and one key to clear."""
    press(cast.desk, "1", " ")
    expect(sees(cast.air, "athlete")).to_contain_text("Asta Norwood")
    press(cast.desk, "c")
    clear(cast.air)


def be_refused(cast: Cast) -> None:
    """What lacks something does not go to programme, and the desk says why."""
    cast.choose("Finish card")
    expect(said(cast.desk, "refusal")).to_have_text("Cannot go to programme: nobody has come in yet")
    press(cast.desk, " ")
    expect(said(cast.desk, "message")).to_have_text("Not taken: nobody has come in yet")
    assert programme(cast.desk, cast.server.base) is None


def work_the_other_output(cast: Cast) -> None:
    """The other output has a programme of its own."""
    press(cast.desk, "o")
    cast.choose("Track")
    press(cast.desk, " ")
    sees(cast.upright, "track")
    clear(cast.air)
    press(cast.desk, "o")


def let_rules_take(cast: Cast) -> None:
    """A finish card comes by itself, and then what was on before."""
    cast.choose("Track")
    press(cast.desk, " ", "a", "a")
    sees(cast.air, "track")
    expect(said(cast.desk, "automatic")).to_contain_text("takes by itself")
    cast.desk.wait_for_timeout(YIELD_MS)
    cast.table.say("rep_counted", lane=1, n=13, at_ms=20_000)
    expect(sees(cast.air, "finish")).to_contain_text("Asta Norwood")
    assert (programme(cast.desk, cast.server.base) or {})["by"] == "automatic"
    expect(on_air(cast.air)).to_have_attribute("data-view", "track", timeout=12_000)


def test_a_show_from_rundown_to_a_killed_server(tmp_path: Path) -> None:
    """An operator works a whole show by keys; the server dies on air and the output does not."""
    with chromium() as browser:
        with show(tmp_path, browser) as cast:
            for scene in (work_the_rundown, pick_and_clear, be_refused, work_the_other_output, let_rules_take):
                scene(cast)
            watch_picture(cast.air)
            cast.server.kill()
            expect(said(cast.desk, "link")).to_contain_text("No link")
            press(cast.desk, "c")
            expect(said(cast.desk, "message")).to_contain_text("not sent, there is no link")
            expect(sees(cast.air, "track")).to_contain_text("Asta Norwood")
        port = str(cast.server.port)
        with served("serve", str(tmp_path / "show.toml"), "--data", str(tmp_path / "data"), "--port", port) as again:
            expect(said(cast.desk, "link")).to_have_text("Linked", timeout=15_000)
            sees(cast.air, "track")
            sees(cast.upright, "track")
            table = Sender(again.port, "table-b", again.key("scoring table"))
            table.say("rep_counted", lane=2, n=2, at_ms=30_000)
            expect(on_air(cast.air).locator("[data-part=row]").filter(has_text="Bo Ellingsen")).to_contain_text("6")
            assert changes_of_picture(cast.air) == []
            table.close()
    kinds = [fact["fact"] for fact in exported(tmp_path / "data")]
    assert (kinds.count("view_taken"), kinds.count("view_cleared")) == (7, 1)


def test_an_output_clears_when_the_hold_is_over(tmp_path: Path) -> None:
    """Without a link the picture stays for the output's own hold, then goes; with the link it is what it should be."""
    with chromium() as browser:
        with show(tmp_path, browser, hold_seconds=2) as cast:
            cast.choose("Track")
            press(cast.desk, " ")
            sees(cast.air, "track")
            cast.server.kill()
            cast.air.wait_for_timeout(1000)
            expect(cast.air.locator("[data-part=air]")).not_to_have_attribute("data-cleared", "")
            expect(cast.air.locator("[data-part=air]")).to_have_attribute("data-cleared", "", timeout=4000)
        port = str(cast.server.port)
        with served("serve", str(tmp_path / "show.toml"), "--data", str(tmp_path / "data"), "--port", port) as again:
            desk = Sender(again.port, "desk-b", again.key("graphics desk"), role="desk")
            desk.say("view_taken", output="world", unix_ms=now_ms(), view="workout", params={})
            desk.close()
            sees(cast.air, "workout")
            expect(cast.air.locator("[data-part=air]")).not_to_have_attribute("data-cleared", "")


def test_a_medical_hold_does_not_wait_for_the_delay(tmp_path: Path) -> None:
    """A lane under a hold is off at once, however far behind the output is; the others stay."""
    with chromium() as browser, show(tmp_path, browser) as cast:
        cast.choose("Track")
        press(cast.desk, " ")
        sees(cast.air, "track")
        said(cast.desk, "delay").fill("20")
        said(cast.desk, "delay").press("Enter")
        expect(said(cast.desk, "behind")).to_contain_text("20 s behind")
        expect(on_air(cast.air).get_by_text("Bo Ellingsen")).to_be_visible()
        cast.table.say("hold_placed", lane=2, at_ms=31_000)
        expect(on_air(cast.air).get_by_text("Bo Ellingsen")).to_have_count(0, timeout=3000)
        expect(on_air(cast.air).get_by_text("Asta Norwood")).to_be_visible()
        press(cast.desk, "2")
        expect(said(cast.desk, "message")).to_contain_text("whole heat")
        cast.choose("One athlete")
        press(cast.desk, "2")
        expect(said(cast.desk, "refusal")).to_contain_text("lane 2 is under a medical hold")


def now_ms() -> int:
    """Now, in Unix milliseconds."""
    return time.time_ns() // 1_000_000


def test_a_rehearsal_replays_the_show(tmp_path: Path) -> None:
    """What was on the air in the recording is on the air in its rehearsal, at the same times of the heat."""
    with served("serve", str(show_file(tmp_path)), "--data", str(tmp_path / "data"), "--port", "0") as server:
        table = Sender(server.port, "table-a", server.key("scoring table"))
        table.start_heat()
        desk = Sender(server.port, "desk-a", server.key("graphics desk"), role="desk")
        for at_ms, view in ((0, "heat"), (15_000, "track"), (90_000, "workout")):
            desk.say("view_taken", output="world", unix_ms=1, view=view, params={}, at_ms=at_ms)
        table.say("rep_counted", lane=1, n=1, at_ms=120_000)
        desk.close()
        table.close()
    recording = tmp_path / "show.ndjson"
    recording.write_bytes(
        subprocess.run(tallywire("export", str(tmp_path / "data")), capture_output=True, check=True).stdout
    )
    command = ("rehearse", str(recording), "--competition", str(tmp_path / "show.toml"), "--port", "0")
    with chromium() as browser, served(*command) as rehearsal:
        air = open_page(browser, rehearsal.links["on air, output world"])
        sees(air, "heat")
        expect(air.get_by_text("not live")).to_be_visible()
        expect(on_air(air)).to_have_attribute("data-view", "track", timeout=20_000)
        assert (programme(air, rehearsal.base) or {})["view"] == "track"
