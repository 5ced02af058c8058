"""Ladder: rising bars with a window of time each."""

from tallywire.core.formats.format import Format
from tallywire.formats.ladder.counting import LadderCounting
from tallywire.formats.ladder.cues import LadderCues
from tallywire.formats.ladder.file import LadderFile
from tallywire.formats.ladder.views import LadderViews
from tallywire.formats.ladder.words import WORDS

FORMAT = Format(
    "ladder",
    LadderCounting(),
    (LadderCues(), LadderFile(), LadderViews(), WORDS),
    late={
        "FormatForecast": "tallywire.formats.ladder.forecast",
        "FormatWork": "tallywire.formats.ladder.made_up",
        "FormatSheet": "tallywire.formats.ladder.sheet",
    },
)
