"""For time: fixed work, the fastest wins."""

from tallywire.core.formats.format import Format
from tallywire.formats.for_time.counting import ForTimeCounting
from tallywire.formats.for_time.file import ForTimeFile
from tallywire.formats.for_time.forecast import ForTimeForecast
from tallywire.formats.for_time.sheet import ForTimeSheet

FORMAT = Format(
    "for_time",
    ForTimeCounting(),
    (ForTimeForecast(), ForTimeFile(), ForTimeSheet()),
)
