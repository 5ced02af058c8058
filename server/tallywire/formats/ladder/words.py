"""What the cues of a ladder need in words."""

from __future__ import annotations

from tallywire.core.cues.format_words import FormatWords, Phrase
from tallywire.core.cues.wording import COUNT, NAME, TIME

BAR = "bar"
WORDS = FormatWords(
    lines={
        "finish_bars": {"name": NAME, "other": NAME, "bars": COUNT, "ahead_by": COUNT},
        "finish_bars_lifts": {"name": NAME, "other": NAME, "bars": COUNT, "lifts": COUNT, "ahead_by": COUNT},
        "finish_bars_level": {"name": NAME, "other": NAME, "bars": COUNT},
        "finish_bars_level_lifts": {"name": NAME, "other": NAME, "bars": COUNT, "lifts": COUNT},
        "ladder_complete": {"name": NAME, "bars": COUNT, "time_ms": TIME},
        "last_left": {"name": NAME, "bar": BAR},
        "out_one": {"name": NAME, "bar": BAR, "lifts": COUNT, "of": COUNT, "left": COUNT},
        "out_two": {"name": NAME, "other": NAME, "bar": BAR, "left": COUNT},
        "out_some": {"name": NAME, "bar": BAR, "count": COUNT, "left": COUNT},
        "bar_open": {"name": NAME, "bar": BAR, "to_go": COUNT, "left_ms": TIME},
        "bar_open_some": {"name": NAME, "bar": BAR, "to_go": COUNT, "left_ms": TIME, "count": COUNT},
        "no_lifts": {"name": NAME, "count": COUNT, "within_ms": TIME, "bar": BAR},
    },
    units=("bars", "lifts"),
    phrases={
        "bar": Phrase(form=BAR, fields={"bar": COUNT}, needed=("bar",)),
        "bar_load": Phrase(form=BAR, fields={"bar": COUNT, "load": NAME}, needed=("load",)),
    },
)
