"""For time, with a penalty in time for every scored rep left at the cap."""

from tallywire.core.formats.format import Format
from tallywire.formats.for_time_with_penalty.counting import PenaltyCounting
from tallywire.formats.for_time_with_penalty.file import PenaltyFile

FORMAT = Format(
    "for_time_with_penalty",
    PenaltyCounting(),
    (PenaltyFile(),),
    late={
        "FormatForecast": "tallywire.formats.for_time_with_penalty.forecast",
        "FormatSheet": "tallywire.formats.for_time_with_penalty.sheet",
    },
)
