"""Intervals: scored pieces with rest between."""

from tallywire.core.formats.format import Format
from tallywire.formats.intervals.counting import IntervalCounting
from tallywire.formats.intervals.cues import IntervalCues
from tallywire.formats.intervals.file import IntervalFile
from tallywire.formats.intervals.views import IntervalViews
from tallywire.formats.intervals.words import WORDS

FORMAT = Format(
    "intervals",
    IntervalCounting(),
    (IntervalCues(), IntervalFile(), IntervalViews(), WORDS),
    late={
        "FormatForecast": "tallywire.formats.intervals.forecast",
        "FormatWork": "tallywire.formats.intervals.made_up",
        "FormatSheet": "tallywire.formats.intervals.sheet",
    },
)
