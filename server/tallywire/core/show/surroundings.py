"""What a heat's own state does not tell: the rest of its event, the standing, and the heat after it."""

from __future__ import annotations

from dataclasses import dataclass

from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What a view may need besides the heat it is about; each is True unless it is known to be missing.

    `raced`: a heat of the event has started. `exact`: what is needed overall has an exact answer. `next`: a heat comes
    after this one that has lanes and has not started.
    """

    raced: bool = True
    exact: bool = True
    next: bool = True


def surroundings_of(snapshot: Snapshot, heat: HeatSnapshot, *, exact: bool) -> Surroundings:
    """Look around a heat. Whether there is an `exact` answer is known once its call has been worked out."""
    return Surroundings(
        raced=any(each.started is not None for each in snapshot.heats_of(heat.event.id)),
        exact=exact,
        next=next_heat(snapshot, heat) is not None,
    )


def next_heat(snapshot: Snapshot, heat: HeatSnapshot) -> HeatSnapshot | None:
    """Give the first heat behind this one on its floor that has lanes and has not started; None at the end."""
    heats = snapshot.on_floor(heat.heat.floor)
    later = heats[heats.index(heat) + 1 :]
    return next((each for each in later if each.heat.lanes and each.started is None), None)
