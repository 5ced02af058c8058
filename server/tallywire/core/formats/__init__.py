"""The formats a workout can have, by the name used in the competition file."""

from __future__ import annotations

from collections.abc import Mapping

from tallywire.core.formats.amrap import Amrap
from tallywire.core.formats.base import Format
from tallywire.core.formats.for_time import ForTime
from tallywire.core.formats.intervals import Intervals
from tallywire.core.formats.ladder import Ladder
from tallywire.core.formats.lifting import MaxLoad
from tallywire.core.formats.penalised import PenalisedForTime

FORMATS: Mapping[str, Format] = {
    "for_time": ForTime(),
    "for_time_with_penalty": PenalisedForTime(),
    "amrap": Amrap(),
    "max_load": MaxLoad(),
    "ladder": Ladder(),
    "intervals": Intervals(),
}
