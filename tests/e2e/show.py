"""A small show for the end-to-end tests: a heat of few reps, an output, a rundown, and a desk to work it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Locator, Page, expect

from e2e.processes import PRACTICE, Served, served
from e2e.sender import Sender

SHOW = (
    PRACTICE.replace("amount = 1000", "amount = 20")
    + """
[[output]]
id = "world"
name = "World feed"
hold_seconds = 60

[[output]]
id = "upright"
name = "Upright"
size = "1080x1920"

[[rundown]]
output = "world"

[[rundown.item]]
view = "heat"
name = "The standing"

[[rundown.item]]
view = "athlete"
who = "lane:2"
"""
)
"""Two lanes of twenty reps, two outputs, a rundown of two lines for the first."""


def show_file(folder: Path, *, hold_seconds: int = 60) -> Path:
    """Write the competition of the show."""
    path = folder / "show.toml"
    path.write_text(SHOW.replace("hold_seconds = 60", f"hold_seconds = {hold_seconds}"), encoding="utf-8")
    return path


@contextmanager
def started(file: Path, reps: Mapping[int, int]) -> Iterator[tuple[Served, Sender]]:
    """Serve a competition with its heat started and so many reps on each lane; gives the server and the table."""
    with served("serve", str(file), "--data", str(file.parent / "data"), "--port", "0") as server:
        table = Sender(server.port, "table-a", server.key("scoring table"))
        table.start_heat()
        for lane, count in reps.items():
            table.say("rep_counted", lane=lane, n=count, at_ms=1000)
        yield server, table
        table.close()


def on_air(page: Page) -> Locator:
    """The picture that is seen on an output: not one that comes, goes or was cleared."""
    return page.locator("[data-part=stage]:not([data-cleared])")


def sees(page: Page, view: str) -> Locator:
    """Wait until this view alone is seen, and give it."""
    expect(on_air(page)).to_have_count(1)
    expect(on_air(page)).to_have_attribute("data-view", view)
    return on_air(page)


def clear(page: Page) -> None:
    """Wait until nothing is seen."""
    expect(on_air(page)).to_have_count(0)


_WATCH = """() => {
  window.changes = [];
  const log = (records) => changes.push(...records.map(({ type, attributeName }) => attributeName ?? type));
  const watcher = new MutationObserver(log);
  const air = document.querySelector("[data-part=air]");
  watcher.observe(air, { attributes: true, childList: true });
  watcher.observe(air.querySelector("[data-part=stage]"), { attributes: true });
}"""


def watch_picture(page: Page) -> None:
    """Write down from now on whatever makes the picture go, come or be another one."""
    expect(page.locator("[data-part=stage]")).to_have_count(1)  # the one before has faded away
    page.evaluate(_WATCH)


def changes_of_picture(page: Page) -> list[str]:
    """Give what was written down."""
    found: list[str] = page.evaluate("changes")
    return found


def press(desk: Page, *keys: str) -> None:
    """Press keys at the desk."""
    for key in keys:
        desk.keyboard.press(key)


def said(desk: Page, part: str) -> Locator:
    """A part of the desk."""
    return desk.locator(f"[data-part={part}]")


def programme(page: Page, base: str, output: str = "world") -> dict[str, Any] | None:
    """What the server says is on programme."""
    frame = page.request.get(f"{base}/snapshot/show").json()["frame"]
    found: dict[str, Any] | None = frame["outputs"][output].get("programme")
    return found
