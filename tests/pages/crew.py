"""A floor of ten lanes, and what its crew has in hand: printed links, phones, and a table whose clicks are counted."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, Locator, Page, expect

from pages.floor import part
from tallywire.cli.main import main

AXE = Path(__file__).parents[1] / "overlay" / "node_modules" / "axe-core" / "axe.min.js"
_SLIP = re.compile(r"^  (\S+) +(.+?) {2,}(https?://\S+)", re.MULTILINE)
ARABIC = "نور الهدى"
LONG = "Wilhelmina Christodoulopoulou-Øster"


def competition() -> str:
    """Write a day of two heats: ten lanes, then twenty."""
    text = """
[competition]
name = "Practice Trials"
[[division]]
id = "open"
name = "Open"
[[points]]
id = "table"
first = 100
step = 1
[[event]]
id = "break"
name = "Breakwater"
[event.workout]
format = "for_time"
time_cap = "30:00"
[[event.workout.station]]
movement = "Sandbag over shoulder"
amount = 50
touch_guard_ms = 0
[[event]]
id = "ebb"
name = "Ebb Tide"
[event.workout]
format = "for_time"
time_cap = "30:00"
[[event.workout.station]]
movement = "Sandbag over shoulder"
amount = 50
"""
    for number in range(1, 21):
        name = ARABIC if number == 10 else f"{LONG} {number}"
        text += f'[[entry]]\nid = "e{number}"\nname = "{name}"\nshort = "W. C. {number}"\ndivision = "open"\n'
    for heat, event, lanes in (("ten", "break", 10), ("twenty", "ebb", 20)):
        on = ", ".join(f'{lane} = "e{lane}"' for lane in range(1, lanes + 1))
        text += f'[[heat]]\nid = "{heat}"\nname = "Women"\nevent = "{event}"\nlanes = {{ {on} }}\n'
    return text


def links(folder: Path, capsys: Any, *wanted: str) -> dict[str, tuple[str, str]]:
    """Ask the command line for links; gives the id and the address of each by its title."""
    capsys.readouterr()
    assert main(["links", str(folder), *wanted]) == 0
    return {title: (link, url) for link, title, url in _SLIP.findall(capsys.readouterr().out)}


@dataclass(slots=True)
class Table:
    """The scoring table, with its clicks counted."""

    page: Page
    clicks: int = field(default=0)

    @property
    def state(self) -> Locator:
        """How far the heat is."""
        return part(self.page.locator("header"), "state")

    def click(self, what: Locator | str) -> None:
        """Click once."""
        (part(self.page, what) if isinstance(what, str) else what).click()
        self.clicks += 1

    def answer(self, **fields: str) -> None:
        """Fill in the question, and say yes."""
        for label, text in fields.items():
            self.page.get_by_role("textbox", name=label.replace("_", " ")).fill(text)
        self.click("ask-yes")
        expect(part(self.page, "ask")).to_be_hidden()

    def lane(self, number: int, action: str, **fields: str) -> None:
        """Do something to a lane from its menu."""
        self.click(part(row(self.page, number), "more"))
        self.click(self.page.locator(f"[data-part=menu] [data-action={action}]"))
        self.answer(**fields)


def row(page: Page, lane: int) -> Locator:
    """A lane's row at the table."""
    return page.locator(f"[data-part=row][data-lane='{lane}']")


def open_pads(phone: BrowserContext, addresses: list[str]) -> list[Page]:
    """Open the pad of each slip."""
    pads = []
    for address in addresses:
        pads.append(phone.new_page())
        pads[-1].goto(address)
    return pads


def indent(pad: Page) -> float:
    """Give how far the athlete's name on a pad stands from the left edge of its room, in CSS pixels."""
    return float(
        part(pad, "name").evaluate(
            """e => {
              const range = document.createRange();
              range.selectNodeContents(e);
              return range.getBoundingClientRect().left - e.getBoundingClientRect().left;
            }"""
        )
    )


def faults(page: Page) -> list[str]:
    """Give what axe-core finds in the page."""
    page.add_script_tag(path=AXE)
    found: dict[str, Any] = page.evaluate("() => axe.run(document, { iframes: false })")
    return [f"{each['id']}: {node['html'][:160]}" for each in found["violations"] for node in each["nodes"]]
