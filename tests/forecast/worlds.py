"""All the worlds in which heats are made up: the three of `generators` and the three of `foreign`."""

from __future__ import annotations

from forecast.foreign import FOREIGN, make_foreign
from forecast.generators import GENERATORS, MadeHeat
from forecast.generators import make_heat as make_own

KINDS = (*GENERATORS, *FOREIGN)


def make_heat(kind: str, seed: int) -> MadeHeat:
    """Make the heat of a world and a seed."""
    return make_own(kind, seed) if kind in GENERATORS else make_foreign(kind, seed)
