"""The two recorded heats of the Saltmarsh Trials: how their movements go, and what happens in each lane."""

from __future__ import annotations

from floor_crew import DoubleTouch, HeatScript, LaneScript, MissedTap, Withdrawal
from tallywire.core.made_up.pace_model import Athlete, Effort, Point, Stall

BREAKWATER = {
    "Wall walk": Effort(
        unit_ms=8_300, jitter=0.08, no_rep_chance=0.03, no_rep_reasons=("hands short of the line", "chest off the wall")
    ),
    "Push press": Effort(
        unit_ms=2_050,
        unbroken=13,
        rest_ms=3_000,
        no_rep_chance=0.02,
        no_rep_reasons=("arms not locked out", "second dip"),
    ),
    "Sled drag": Effort(unit_ms=980, jitter=0.06, no_rep_chance=0.0004, no_rep_reasons=("stepped out of the lane",)),
    "Box jump-over": Effort(
        unit_ms=2_300,
        unbroken=15,
        rest_ms=2_600,
        no_rep_chance=0.018,
        no_rep_reasons=("one foot first", "foot beside the box"),
    ),
}

BY_LENGTHS = {"Sled drag": 12}
"""The judge taps every length of twelve metres; others tap the block when it is complete."""

WOMEN_2 = HeatScript(
    heat="women-2",
    seed=101,
    started_unix_ms=1_817_629_200_000,
    efforts=BREAKWATER,
    lanes={
        # Her judge looked away; the table saw that sheet and number disagree.
        1: LaneScript(
            athlete=Athlete(fade=0.10),
            home_ms=724_163,
            missed_taps=(
                MissedTap(
                    at=Point(round=2, station=2, unit=9),
                    reason="ninth push press of round two was not tapped",
                    noticed_ms=37_000,
                ),
            ),
        ),
        # Seventh overall, and the quickest over the box: two seconds behind with the last fifteen to go.
        2: LaneScript(
            athlete=Athlete(fade=0.07, strengths={"Box jump-over": 0.92}), home_ms=638_452, tap_every=BY_LENGTHS
        ),
        # Stops for breath in a block that her judge taps only when it is complete: two minutes without a tap.
        3: LaneScript(
            athlete=Athlete(fade=0.12, stalls=(Stall(at=Point(round=2, station=3, unit=31), ms=58_000),)),
            home_ms=816_000,
        ),
        4: LaneScript(athlete=Athlete(fade=0.09, strengths={"Wall walk": 0.93}), home_ms=672_784, tap_every=BY_LENGTHS),
        # Leads the competition by thirteen points, goes out too fast, and comes home four places behind lane 6.
        5: LaneScript(athlete=Athlete(fade=0.22), home_ms=679_508, tap_every=BY_LENGTHS),
        # Second overall; flat to the end.
        6: LaneScript(athlete=Athlete(fade=0.03), home_ms=638_917, tap_every=BY_LENGTHS),
        # Ahead until a no-rep four jumps from home.
        7: LaneScript(
            athlete=Athlete(
                fade=0.10,
                strengths={"Push press": 0.94},
                no_reps={Point(round=4, station=4, unit=12): "one foot first"},
            ),
            home_ms=645_330,
            tap_every=BY_LENGTHS,
        ),
        # Comes home in the same millisecond as lane 4.
        8: LaneScript(
            athlete=Athlete(fade=0.05, strengths={"Sled drag": 0.95}),
            home_ms=672_784,
            tap_every=BY_LENGTHS,
            double_touches=(DoubleTouch(at=Point(round=2, station=4, unit=5)),),
        ),
        9: LaneScript(
            athlete=Athlete(fade=0.16),
            home_ms=752_000,
            withdrawal=Withdrawal(at=Point(round=3, station=2, unit=9), reason="did not go on"),
        ),
        10: LaneScript(
            athlete=Athlete(fade=0.11, strengths={"Box jump-over": 0.94}), home_ms=807_000, tap_every=BY_LENGTHS
        ),
    },
)
"""A heat for time with most of what a floor sees in a weekend. Lanes home after the cap do not finish."""

EBB_TIDE = {
    "Row": Effort(unit_ms=3_350, jitter=0.05),
    "Sandbag carry": Effort(unit_ms=560, jitter=0.05),
    "Release push-up": Effort(
        unit_ms=2_050,
        unbroken=12,
        rest_ms=2_800,
        no_rep_chance=0.03,
        no_rep_reasons=("hands not released", "arms not straight"),
    ),
}

BY_FOURS = {"Row": 4}
"""Calories are read off the machine and tapped four at a time."""

EBB_WOMEN = HeatScript(
    heat="ebb-women",
    seed=33,
    started_unix_ms=1_817_717_400_000,
    efforts=EBB_TIDE,
    lanes={
        lane: LaneScript(athlete=Athlete(skill=skill, fade=fade), tap_every=BY_FOURS)
        for lane, skill, fade in (
            (1, 0.91, 0.08),
            (2, 1.05, 0.15),
            (3, 0.97, 0.10),
            (4, 1.02, 0.07),
            (5, 1.07, 0.05),
            (6, 1.10, 0.16),
            (7, 1.04, 0.12),
            (8, 0.95, 0.09),
            (9, 0.97, 0.13),
            (10, 0.89, 0.06),
        )
    },
)
"""An AMRAP without incidents."""

HEATS = {"saltmarsh-women-2.ndjson": WOMEN_2, "ebb-tide-women.ndjson": EBB_WOMEN}
"""The scripts by the file their recording is written to."""
