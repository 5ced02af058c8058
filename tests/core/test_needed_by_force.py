"""What is needed in a live heat, against every end the heat can have: fresh situations in every run."""

from __future__ import annotations

from random import SystemRandom

import pytest

from core.stakes_by_force import Situation, random_situation
from tallywire.core.ranking.series import Series

FRESH, LONG = 40, 2500
"""How many fresh situations the test command brings to all their ends, and how many `--long` does."""


def place(end: Series, entry: str) -> int:
    """The overall place of an entry when the cut was made: those cut stand behind the others from then on."""
    (decisions,) = end.cuts.values()
    return next(each.place for each in decisions if each.entry == entry)


def goes_on(end: Series, entry: str) -> bool:
    """Whether the cut let an entry go on."""
    (decisions,) = end.cuts.values()
    return any(each.entry == entry and each.goes_on for each in decisions)


def differences(situation: Situation) -> list[str]:
    """What the program says of each entry, where the ends of the heat say something else."""
    found, ends, bad = situation.stakes(), [*situation.ends()], []
    if found.unknown is not None:
        return [f"not worked out: {found.unknown}"]
    size = situation.competition.cuts[0].cut.size
    lane_of = {entry: lane for lane, entry in situation.competition.heats["live"].lanes.items()}
    sure = []
    for entry, prospect in found.prospects.items():
        need, cut = prospect.need, prospect.cut
        assert cut is not None
        places = [place(end, entry) for end in ends]
        if (need.best, need.worst) != (min(places), max(places)):
            bad.append(f"{entry}: {need.best} to {need.worst}, by force {min(places)} to {max(places)}")
        on = [goes_on(end, entry) for end in ends]
        if (cut.safe_for(size), cut.can_reach(size)) != (all(on), any(on)):
            bad.append(f"{entry}: cut {cut.safe_for(size)} {cut.can_reach(size)}, by force {all(on)} {any(on)}")
        stopped = situation.ends(stopped=lane_of[entry]) if lane_of[entry] in situation.working else ()
        if max(places) == 1 and all(place(end, entry) == 1 for end in stopped):
            sure.append(entry)
    if (found.clinched is None) != (not sure) or (found.clinched is not None and found.clinched not in sure):
        bad.append(f"clinched {found.clinched}, by force {sure}")
    return bad


def test_two_calls_between_two_times_part_those_who_were_level() -> None:
    """a, b and d level at 160 s, d called, c called at 170 s, and a table of 30, 50, 0, 20: b may still be third.

    By hand: a and b are called between the two times, a first. Then a has 26 2/3 + 50, c 56 2/3 + 20, b 70 + 0.
    """
    situation = random_situation(590_357_521)
    need = situation.stakes().prospects["b"].need
    assert (need.best, need.worst) == (1, 3)
    assert differences(situation) == []


@pytest.mark.slow
def test_fresh_situations_are_answered_as_all_their_ends_say(pytestconfig: pytest.Config) -> None:
    """Places within reach, the cut and who has clinched, under rules of all kinds, are those of all its ends."""
    first = SystemRandom().randrange(10**9)
    seeds = range(first, first + (LONG if pytestconfig.getoption("--long") else FRESH))
    bad = [f"seed {seed}: {text}" for seed in seeds for text in differences(random_situation(seed))]
    print(f"{len(seeds)} situations from seed {first}, {len(bad)} differences")
    assert not bad, f"{len(bad)} differences from seed {first}\n" + "\n".join(bad[:10])
