"""For time: fixed work, the fastest wins."""

from tallywire.core.formats.format import Format
from tallywire.formats.for_time.counting import ForTimeCounting
from tallywire.formats.for_time.file import ForTimeFile

FORMAT = Format(
    "for_time",
    ForTimeCounting(),
    (ForTimeFile(),),
    late={
        "FormatForecast": "tallywire.formats.for_time.forecast",
        "FormatSheet": "tallywire.formats.for_time.sheet",
    },
)
