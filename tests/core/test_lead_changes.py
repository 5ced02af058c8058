"""Changes of the lead: worked out by hand, and counted a second time on the demo heat."""

from __future__ import annotations

from core.examples import competition_of, recorded
from core.folding import fold
from core.raw_heat import CAP_MS, RawHeat
from core.samples import HEAT, Pad, competition
from tallywire.core.facts import Disqualified, PenaltyGiven
from tallywire.core.gaps.lead_changes import LeadChange, lead_changes
from tallywire.core.reports.moments import heat_moments


def test_a_lead_changes_when_somebody_goes_ahead_not_when_they_are_level() -> None:
    """Level at one rep nobody takes it over; with two the second does; what comes at one moment counts together."""
    one, two = Pad("lane-1-a", 1), Pad("lane-2-a", 2)
    facts = [Pad("table-a").start(), one.reps(1_000), two.reps(2_000), two.block(5_000), one.block(6_000)]
    found = lead_changes(fold(competition(lanes=2), HEAT, facts, 10_000))
    assert found["women"] == [
        LeadChange(lane=1, at_ms=1_000, scored_reps=1, first=True),
        LeadChange(lane=2, at_ms=5_000, scored_reps=2, first=False),
    ]


def test_who_has_stopped_leads_no_more() -> None:
    """When the leader withdraws the next one leads from then on, whether it does another rep or not."""
    one, two = Pad("lane-1-a", 1), Pad("lane-2-a", 2)
    facts = [
        Pad("table-a").start(),
        one.reps(1_000),
        one.block(2_000),
        two.reps(3_000),
        one.withdraw(4_000),
        two.block(5_000),
    ]
    for known in (facts, facts[:-1]):
        found = lead_changes(fold(competition(lanes=2), HEAT, known, 10_000))["women"]
        assert [(each.lane, each.at_ms) for each in found] == [(1, 1_000), (2, 4_000)]


def test_reps_taken_by_a_penalty_cost_the_lead() -> None:
    """Two reps against one: with two taken from the first the second leads alone, with one of its own."""
    one, two = Pad("lane-1-a", 1), Pad("lane-2-a", 2)
    penalty = one.conduct(PenaltyGiven, 4_000, reps=2, ms=0, reason="lane")
    facts = [Pad("table-a").start(), one.reps(1_000), one.block(2_000), two.reps(3_000), penalty]
    found = lead_changes(fold(competition(lanes=2), HEAT, facts, 10_000))["women"]
    assert [(each.lane, each.at_ms, each.scored_reps) for each in found] == [(1, 1_000, 1), (2, 4_000, 1)]


def test_who_is_disqualified_has_led_nothing() -> None:
    """The one in front is disqualified: the second led from its first rep on."""
    one, two = Pad("lane-1-a", 1), Pad("lane-2-a", 2)
    facts = [Pad("table-a").start(), one.reps(1_000), one.block(2_000), two.reps(3_000)]
    out = one.conduct(Disqualified, 4_000, reason="rule 4")
    found = lead_changes(fold(competition(lanes=2), HEAT, [*facts, out], 10_000))["women"]
    assert [(each.lane, each.at_ms) for each in found] == [(2, 3_000)]


def test_each_change_of_the_lead_is_a_moment() -> None:
    """The first leads with a rep, another takes the lead with two."""
    one, two = Pad("lane-1-a", 1), Pad("lane-2-a", 2)
    facts = [Pad("table-a").start(), one.reps(1_000), two.reps(2_000), two.block(3_000)]
    found = heat_moments(fold(competition(lanes=2), HEAT, facts, 10_000))
    told = [(each.key, each.values["name"], each.values["reps"]) for each in found if each.kind == "lead"]
    assert told == [("leads", "Entry 1", 1), ("takes_lead", "Entry 2", 2)]


def test_the_leads_of_the_demo_heat_are_those_of_a_second_count() -> None:
    """Every change of the demo heat stands in the raw recording: alone in front then, and not a moment before."""
    work = competition_of("saltmarsh")
    state = fold(work, "women-2", recorded("saltmarsh-women-2"), CAP_MS)
    (found,) = lead_changes(state).values()
    assert found
    for change in found:
        now, before = RawHeat(change.at_ms), RawHeat(change.at_ms - 1)
        best = max(lane.reps for lane in now.lanes.values())
        assert [number for number, lane in now.lanes.items() if lane.reps == best] == [change.lane]
        assert max(lane.reps for lane in before.lanes.values()) < best or before.lanes[change.lane].reps < best
