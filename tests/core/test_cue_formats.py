"""Cues in every format: what holds in all of them, on heats made up by hand and at random."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.cue_heats import (
    WORDING,
    ladder_work,
    lift_work,
    lines,
    pieces_work,
    reps,
)
from core.samples import HEAT, Pad, competition, workout
from core.test_cues import stamped
from tallywire.core.cues import say
from tallywire.core.cues.script import cue_script
from tallywire.core.facts import Fact, HoldPlaced
from tallywire.core.model.competition import Competition
from tallywire.core.model.workout import Mark, Station
from tallywire.formats.intervals.rules import Counts


def test_a_withdrawal_says_no_round_where_there_are_none() -> None:
    """Lifts, bars and pieces have no rounds to stop in."""
    for work in (lift_work(), ladder_work(), pieces_work()):
        assert "E1 has stopped and will not go on." in lines(work, [Pad("lane-1", 1).withdraw(5_000)])


def test_a_heat_in_which_nobody_moves_is_silent() -> None:
    """No lift, no piece: nobody leads and nobody wins. On a ladder all are out at the first bar, and none has won."""
    for work in (lift_work(), lift_work(None), ladder_work(), pieces_work(), pieces_work(Counts.BEST)):
        assert lines(work, [Pad("lane-1", 1).no_rep(250_000)]) == []


def test_fixed_time_is_shared_or_parted_by_the_tie_break() -> None:
    """Equal reps: the win is shared; with a tie-break mark the earlier one at it has won."""
    stations = ((Station(movement="row", amount=10),),)
    facts = [*reps(1, (12, 1_000)), *reps(2, 12)]
    shared = competition(workout(kind="amrap", rounds=stations, cap_ms=60_000), lanes=2)
    assert lines(shared, facts)[-1] == "E1 and E2 share the win in the heat with twelve reps."
    mark = Mark(round=1, station=1)
    parted = competition(workout(kind="amrap", rounds=stations, cap_ms=60_000, tie_break=mark), lanes=2)
    assert lines(parted, facts)[-1] == "E1 wins the heat from E2 on the tie-break, at the mark at 0:10."


@st.composite
def heats(draw: st.DrawFn) -> tuple[Competition, list[Fact]]:
    """Random lifts, ladders and intervals of three lanes, with a withdrawal or a void now and then."""
    work = draw(st.sampled_from(WORKS))
    facts: list[Fact] = []
    for lane in (1, 2, 3):
        pad, at_ms = Pad(f"lane-{lane}", lane), 0
        for _ in range(draw(st.integers(0, 12))):
            at_ms += draw(st.integers(1, 40_000))
            facts += _work(pad, work, at_ms, draw(st.integers(0, 9)))
    if facts and draw(st.integers(0, 2)) == 0:
        facts.append(Pad("table-a").void(draw(st.integers(0, 250_000)), draw(st.sampled_from(facts))))
    return work, facts


def _work(pad: Pad, work: Competition, at_ms: int, dice: int) -> list[Fact]:
    """What a lane does at a time: a lift two times of three good, or reps; rarely it withdraws."""
    own = work.events["event"].workout
    if dice == 9 and at_ms > 150_000:
        return [pad.withdraw(at_ms)]
    if own.format == "intervals":
        return [pad.reps(at_ms, 1 + dice)]
    declared = [] if own.format != "max_load" else [pad.declare(max(0, at_ms - 5_000), 50_000 + 500 * dice)]
    return [*declared, pad.failed(at_ms) if dice % 3 == 0 else pad.made(at_ms)]


WORKS = (
    lift_work(),
    lift_work(None),
    ladder_work(lanes=3),
    *(pieces_work(counts, timed=timed) for counts in Counts for timed in (True, False)),
)


@pytest.mark.slow
@given(heats(), st.integers(0, 250))
def test_laws_of_the_desk_hold_in_every_format(made: tuple[Competition, list[Fact]], hold_s: int) -> None:
    """The same script twice, whatever the order; no key twice; nothing old; nothing of a held lane; all can be said."""
    work, facts = made
    facts = [Pad("starter").start(), *facts, stamped(HoldPlaced, 2, hold_s * 1000)]
    said = cue_script(work, HEAT, facts, step_ms=5_000)
    assert said == cue_script(work, HEAT, list(reversed(facts)), step_ms=5_000)
    lasting = [cue.key for _, cue in said if cue.since_ms == 0]
    assert len(lasting) == len(set(lasting))
    assert all(cue.at_ms <= at_ms < cue.until_ms for at_ms, cue in said)
    assert not any(2 in cue.lanes or "E2" in cue.values.values() for at_ms, cue in said if at_ms >= hold_s * 1000)
    assert all("{" not in say(cue, WORDING) for _, cue in said)
    numbers = [value for _, cue in said for value in cue.values.values() if isinstance(value, int)]
    assert all(value >= 0 for value in numbers)
