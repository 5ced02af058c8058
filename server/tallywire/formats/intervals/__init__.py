"""Intervals: scored pieces with rest between."""

from tallywire.core.formats.format import Format
from tallywire.formats.intervals.counting import IntervalCounting
from tallywire.formats.intervals.cues import IntervalCues
from tallywire.formats.intervals.file import IntervalFile
from tallywire.formats.intervals.forecast import IntervalForecast
from tallywire.formats.intervals.made_up import IntervalWork
from tallywire.formats.intervals.sheet import IntervalSheet
from tallywire.formats.intervals.views import IntervalViews
from tallywire.formats.intervals.words import WORDS

FORMAT = Format(
    "intervals",
    IntervalCounting(),
    (IntervalCues(), IntervalForecast(), IntervalFile(), IntervalSheet(), IntervalViews(), WORDS, IntervalWork()),
)
