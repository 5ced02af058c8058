"""An entry under a medical hold in any heat is told to every output at once."""

from __future__ import annotations

from core.samples import HEAT, Pad, competition
from shell.stage import frame_now, live_on
from tallywire.core.facts import Fact, FactVoided, HoldPlaced, HoldReleased
from tallywire.shell.books import Change
from tallywire.shell.journal.memory import MemoryJournal


def test_the_show_names_who_is_on_hold() -> None:
    """A hold, its release and a voided hold change the list, and every heat's pictures are to hear of it."""
    entries = competition(lanes=3)
    live = live_on(MemoryJournal(), work=entries)
    table = Pad("table-a", 2)
    held = table.conduct(HoldPlaced, 1000)

    def heard(fact: Fact) -> tuple[set[str], bool]:
        change = Change()
        live.books.add(fact, change)
        return change.heats, change.show

    everywhere = (set(entries.heats), True)
    assert heard(held) == everywhere
    assert frame_now(live, "show", "floor")["held"] == [entries.heats[HEAT].lanes[2]]
    assert heard(table.conduct(HoldReleased, 2000)) == everywhere
    assert frame_now(live, "show", "floor")["held"] == []
    again = table.conduct(HoldPlaced, 3000)
    assert heard(again) == everywhere
    assert frame_now(live, "show", "floor")["held"] != []
    void = FactVoided(id="v", heat=HEAT, at_ms=4000, sender="table-a", sequence=9, voids=again.id, lane=2)
    assert heard(void) == everywhere
    assert frame_now(live, "show", "floor")["held"] == []
