"""The two recorded heats of the Saltmarsh Trials: how their movements go, and what happens in each lane."""

from __future__ import annotations

from floor_crew import DoubleTouch, HeatScript, LaneScript, MissedTap, Withdrawal
from pace_model import Athlete, Effort, Point, Stall

BREAKWATER = {
    "Sled haul": Effort(unit_ms=17_500, jitter=0.08, no_rep_chance=0.01, no_rep_reasons=("sled short of the line",)),
    "Shuttle touch": Effort(unit_ms=1_220, no_rep_chance=0.003, no_rep_reasons=("hand short of the line",)),
    "Sandbag over shoulder": Effort(
        unit_ms=1_960,
        unbroken=10,
        rest_ms=3_200,
        no_rep_chance=0.025,
        no_rep_reasons=("bag not over the shoulder", "bag dropped in front"),
    ),
    "Box step-over": Effort(
        unit_ms=2_020,
        unbroken=12,
        rest_ms=2_400,
        no_rep_chance=0.02,
        no_rep_reasons=("foot beside the box", "hip not open on the box"),
    ),
}

BY_TENS = {"Shuttle touch": 10}
"""The judge taps every ten touches; others tap the block when it is complete."""

WOMEN_2 = HeatScript(
    heat="women-2",
    seed=17,
    started_unix_ms=1_812_793_200_000,
    efforts=BREAKWATER,
    lanes={
        1: LaneScript(athlete=Athlete(fade=0.10), home_ms=790_440, tap_every=BY_TENS),
        # Stops for breath in a block that her judge taps only when it is complete: two minutes without a tap.
        2: LaneScript(
            athlete=Athlete(fade=0.12, stalls=(Stall(at=Point(round=3, station=2, unit=24), ms=62_000),)),
            home_ms=964_000,
        ),
        # Her judge looked away; the table saw that sheet and number disagree.
        3: LaneScript(
            athlete=Athlete(fade=0.12),
            home_ms=836_180,
            missed_taps=(
                MissedTap(
                    at=Point(round=2, station=3, unit=7),
                    reason="seventh sandbag of round two was not tapped",
                    noticed_ms=41_000,
                ),
            ),
        ),
        # Comes home in the same millisecond as lane 8.
        4: LaneScript(athlete=Athlete(fade=0.09, strengths={"Sled haul": 0.9}), home_ms=741_905, tap_every=BY_TENS),
        # Leads the competition by five points, goes out too fast, and comes home four places behind lane 6.
        5: LaneScript(athlete=Athlete(fade=0.20), home_ms=747_212, tap_every=BY_TENS),
        # Second overall; flat to the end.
        6: LaneScript(athlete=Athlete(fade=0.03), home_ms=712_684, tap_every=BY_TENS),
        # Ahead until a no-rep three step-overs from home.
        7: LaneScript(
            athlete=Athlete(
                fade=0.08,
                strengths={"Sandbag over shoulder": 0.94},
                no_reps={Point(round=5, station=4, unit=8): "foot beside the box"},
            ),
            home_ms=713_371,
            tap_every=BY_TENS,
        ),
        8: LaneScript(
            athlete=Athlete(fade=0.05, strengths={"Shuttle touch": 0.94}),
            home_ms=741_905,
            double_touches=(DoubleTouch(at=Point(round=3, station=3, unit=4)),),
        ),
        9: LaneScript(
            athlete=Athlete(fade=0.11, strengths={"Sandbag over shoulder": 0.95, "Box step-over": 0.92}),
            home_ms=913_000,
            tap_every=BY_TENS,
        ),
        10: LaneScript(
            athlete=Athlete(fade=0.16),
            home_ms=846_000,
            withdrawal=Withdrawal(at=Point(round=4, station=3, unit=4), reason="did not go on"),
        ),
    },
)
"""A heat for time with most of what a floor sees in a weekend. Lanes home after the cap do not finish."""

EBB_TIDE = {
    "Row": Effort(unit_ms=3_350, jitter=0.05),
    "Sandbag carry": Effort(unit_ms=560, jitter=0.05),
    "Release push-up": Effort(
        unit_ms=2_050,
        unbroken=10,
        rest_ms=2_800,
        no_rep_chance=0.03,
        no_rep_reasons=("hands not released", "arms not straight"),
    ),
}

BY_FOURS = {"Row": 4}
"""Calories are read off the machine and tapped four at a time."""

EBB_WOMEN = HeatScript(
    heat="ebb-women",
    seed=28,
    started_unix_ms=1_812_881_400_000,
    efforts=EBB_TIDE,
    lanes={
        lane: LaneScript(athlete=Athlete(skill=skill, fade=fade), tap_every=BY_FOURS)
        for lane, skill, fade in (
            (1, 0.97, 0.12),
            (2, 0.98, 0.09),
            (3, 1.03, 0.14),
            (4, 1.01, 0.05),
            (5, 1.05, 0.06),
            (6, 1.10, 0.20),
            (7, 1.04, 0.11),
            (8, 0.99, 0.07),
            (9, 1.01, 0.13),
            (10, 0.93, 0.08),
        )
    },
)
"""An AMRAP without incidents."""

HEATS = {"saltmarsh-women-2.ndjson": WOMEN_2, "ebb-tide-women.ndjson": EBB_WOMEN}
"""The scripts by the file their recording is written to."""
