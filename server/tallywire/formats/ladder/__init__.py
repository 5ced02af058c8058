"""Ladder: rising bars with a window of time each."""

from tallywire.core.formats.format import Format
from tallywire.formats.ladder.counting import LadderCounting
from tallywire.formats.ladder.cues import LadderCues
from tallywire.formats.ladder.file import LadderFile
from tallywire.formats.ladder.forecast import LadderForecast
from tallywire.formats.ladder.made_up import LadderWork
from tallywire.formats.ladder.sheet import LadderSheet
from tallywire.formats.ladder.views import LadderViews
from tallywire.formats.ladder.words import WORDS

FORMAT = Format(
    "ladder",
    LadderCounting(),
    (LadderCues(), LadderForecast(), LadderFile(), LadderSheet(), LadderViews(), WORDS, LadderWork()),
)
