"""Max load: the heaviest good lift wins."""

from tallywire.core.formats.format import Format
from tallywire.formats.max_load.counting import LiftCounting
from tallywire.formats.max_load.cues import LiftCues
from tallywire.formats.max_load.file import LiftFile
from tallywire.formats.max_load.views import LiftViews
from tallywire.formats.max_load.words import WORDS

FORMAT = Format(
    "max_load",
    LiftCounting(),
    (LiftCues(), LiftFile(), LiftViews(), WORDS),
    late={
        "FormatForecast": "tallywire.formats.max_load.forecast",
        "FormatWork": "tallywire.formats.max_load.made_up",
        "FormatSheet": "tallywire.formats.max_load.sheet",
    },
)
