"""The scoresheet of lifts: a row for every attempt."""

from __future__ import annotations

from tallywire.core.model.competition import Event
from tallywire.core.model.loads import load_text
from tallywire.core.model.workout import Workout
from tallywire.core.reports.format_sheet import Blank, FormatSheet, SheetGrid, SheetPiece
from tallywire.formats.max_load.rules import rules_of

ROWS = 10
"""How many attempts there is room for where they are not numbered."""


class LiftSheet(FormatSheet):
    """Each attempt has its load written down and is ticked as good or not."""

    def pieces(self, event: Event, _division: str) -> list[SheetPiece]:
        """Give the attempts to fill in."""
        movement = event.workout.rounds[0][0].movement
        count = rules_of(event.workout).attempts or ROWS
        grid = SheetGrid(
            title=movement,
            columns=("attempt", "load", "good lift", "no lift"),
            rows=[(str(number), Blank.WRITE, Blank.BOX, Blank.BOX) for number in range(1, count + 1)],
        )
        summary = f"{movement}: {count} attempts, {self.equipment(event.workout)}. The heaviest good lift counts."
        return [SheetPiece(grid=grid, summary=summary)]

    def to_write(self, _workout: Workout) -> list[str]:
        """The judge writes the result."""
        return ["heaviest good lift"]

    def equipment(self, workout: Workout) -> str:
        """Say what the bar weighs, and the unit of loads."""
        rules = rules_of(workout)
        return f"bar {load_text(rules.bar_milli, rules.unit)}, loads in {rules.unit}"
