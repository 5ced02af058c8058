"""For time, with a penalty in time for every scored rep left at the cap."""

from tallywire.core.formats.format import Format
from tallywire.formats.for_time_with_penalty.counting import PenaltyCounting
from tallywire.formats.for_time_with_penalty.file import PenaltyFile
from tallywire.formats.for_time_with_penalty.forecast import PenaltyForecast
from tallywire.formats.for_time_with_penalty.sheet import PenaltySheet

FORMAT = Format(
    "for_time_with_penalty",
    PenaltyCounting(),
    (PenaltyForecast(), PenaltyFile(), PenaltySheet()),
)
