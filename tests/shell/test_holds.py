"""Who is under a medical hold in any heat is told to every output at once."""

from __future__ import annotations

from core.samples import HEAT, Pad, competition
from tallywire.core.facts import FactVoided, HoldPlaced, HoldReleased
from tallywire.shell.clock import SystemClock
from tallywire.shell.read_model import ReadModel


def test_the_show_names_who_is_on_hold() -> None:
    """A hold, its release and a voided hold change the list, and every heat's pictures are to hear of it."""
    entries = competition(lanes=3)
    book = ReadModel(entries, clock=SystemClock(), mode="live", speed=1)
    table = Pad("table-a", 2)
    held = table.conduct(HoldPlaced, 1000)
    everywhere = {*entries.heats, "floor"}
    assert book.add(held) == everywhere
    assert book.frame("show", "floor")["held"] == [entries.heats[HEAT].lanes[2]]
    assert book.add(table.conduct(HoldReleased, 2000)) == everywhere
    assert book.frame("show", "floor")["held"] == []
    again = table.conduct(HoldPlaced, 3000)
    book.add(again)
    assert book.frame("show", "floor")["held"] != []
    void = FactVoided(id="v", heat=HEAT, at_ms=4000, sender="table-a", sequence=9, voids=again.id, lane=2)
    assert book.add(void) == everywhere
    assert book.frame("show", "floor")["held"] == []
