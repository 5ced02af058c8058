"""The formats a workout can have, by the name used in the competition file."""

from __future__ import annotations

from collections.abc import Mapping

from tallywire.core.formats.amrap import Amrap
from tallywire.core.formats.base import Format
from tallywire.core.formats.for_time import ForTime

FORMATS: Mapping[str, Format] = {
    "for_time": ForTime(),
    "amrap": Amrap(),
}
