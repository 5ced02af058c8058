"""Dice for made-up heats, and the lanes that judges practise on: nothing here knows a journal or the day's books."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import replace
from random import Random
from typing import Any

from tallywire.core.made_up.heat import MadeUp
from tallywire.core.made_up.worlds import WORLDS
from tallywire.core.model.competition import Competition
from tallywire.core.views.practice import practice_data

WORLD = "storms"
"""Where judges practise, but that nobody leaves or stops for long: every eighth attempt or so is a no-rep."""
_KEPT = 32


def seeded(competition: Competition, world: str, seed: int) -> MadeUp:
    """Give what heats are made from: a seed, a world and a competition always give the same heats."""
    # A text is hashed the same way everywhere; the dice of a heat do not depend on which others are asked for.
    return MadeUp(
        competition=competition,
        world=WORLDS[world],
        dice_of=lambda name: Random(f"{seed}/{name}"),  # noqa: S311
    )


class Practice:
    """The lanes to practise on: made when they are asked for, and the newest few kept."""

    def __init__(self, competition: Competition) -> None:
        self._competition = competition
        self._kept: OrderedDict[tuple[str, int, int], dict[str, Any]] = OrderedDict()

    def lane(self, heat: str, lane: int, seed: int) -> dict[str, Any]:
        """Give a lane of a heat as the practice page wants it; the same for everybody."""
        asked = (heat, lane, seed)
        if asked not in self._kept:
            self._kept[asked] = self._made(heat, lane, seed)
            if len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        return self._kept[asked]

    def _made(self, heat: str, lane: int, seed: int) -> dict[str, Any]:
        made = seeded(self._competition, WORLD, seed)
        made = replace(made, world=replace(made.world, leaves=0.0, breakdown=0.0))
        return {"seed": seed, **practice_data(made, self._competition.heats[heat], lane)}
