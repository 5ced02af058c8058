"""What the cues of lifts need in words."""

from __future__ import annotations

from tallywire.core.cues.format_words import FormatWords
from tallywire.core.cues.wording import COUNT, LOAD, NAME

WORDS = FormatWords(
    lines={
        "finish_lift": {"name": NAME, "other": NAME, "load_milli": LOAD, "ahead_milli": LOAD},
        "finish_lift_level": {"name": NAME, "other": NAME, "load_milli": LOAD},
        "lead_lift": {"name": NAME, "other": NAME, "load_milli": LOAD, "ahead_milli": LOAD},
        "lead_lift_plain": {"name": NAME, "load_milli": LOAD},
        "lift_up": {"name": NAME, "load_milli": LOAD, "place": COUNT, "place_before": COUNT},
        "lift_level": {"name": NAME, "other": NAME, "load_milli": LOAD, "place": COUNT, "place_before": COUNT},
        "lift_level_lead": {"name": NAME, "other": NAME, "load_milli": LOAD, "place": COUNT, "place_before": COUNT},
        "lift_saved": {"name": NAME, "load_milli": LOAD, "place": COUNT},
        "miss_lead": {"name": NAME, "load_milli": LOAD, "left": COUNT},
        "miss_leader_last": {"name": NAME, "load_milli": LOAD, "best_milli": LOAD, "to_lift": COUNT},
        "miss_last_chance": {"name": NAME, "load_milli": LOAD},
        "miss_no_lift": {"name": NAME, "load_milli": LOAD},
        "on_the_bar": {"name": NAME, "load_milli": LOAD, "ahead_milli": LOAD},
    },
    units=("attempts",),
)
