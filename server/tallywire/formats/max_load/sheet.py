"""The scoresheet of lifts: a row for every attempt."""

from __future__ import annotations

from tallywire.core.model.competition import Event
from tallywire.core.model.loads import load_text
from tallywire.core.model.workout import Workout
from tallywire.core.reports.format_sheet import Blank, FormatSheet, SheetGrid, SheetPiece
from tallywire.core.reports.say import Saying
from tallywire.formats.max_load.rules import rules_of

_COLUMNS = ("attempt", "load", "good_lift", "no_lift")
ROWS = 10
"""How many attempts there is room for where they are not numbered."""


class LiftSheet(FormatSheet):
    """Each attempt has its load written down and is ticked as good or not."""

    def pieces(self, event: Event, _division: str, say: Saying) -> list[SheetPiece]:
        """Give the attempts to fill in."""
        movement = event.workout.rounds[0][0].movement
        count = rules_of(event.workout).attempts or ROWS
        grid = SheetGrid(
            title=movement,
            columns=tuple(say(f"paper.max_load.{each}") for each in _COLUMNS),
            rows=[(str(number), Blank.WRITE, Blank.BOX, Blank.BOX) for number in range(1, count + 1)],
        )
        at_hand = self.equipment(event.workout, say)
        summary = say("paper.max_load.summary", movement=movement, count=count, equipment=at_hand)
        return [SheetPiece(grid=grid, summary=summary)]

    def to_write(self, _workout: Workout, say: Saying) -> list[str]:
        """The judge writes the result."""
        return [say("paper.max_load.heaviest")]

    def equipment(self, workout: Workout, say: Saying) -> str:
        """Say what the bar weighs, and the unit of loads."""
        rules = rules_of(workout)
        return say(
            "paper.max_load.equipment", bar=load_text(rules.bar_milli, rules.unit), unit=say(f"shared.{rules.unit}")
        )

    def result(self, result: str, say: Saying) -> str:
        """Say that there is none; a load has its unit behind it."""
        if result == "no lift":
            return say("max_load.no_result")
        amount, _, unit = result.partition(" ")
        return f"{amount} {say(f'shared.{unit}')}" if unit in ("kg", "lb") else result


FACET = LiftSheet()
