"""As many repetitions as possible in a fixed time."""

from tallywire.core.formats.format import Format
from tallywire.formats.amrap.counting import AmrapCounting
from tallywire.formats.amrap.file import AmrapFile

FORMAT = Format(
    "amrap",
    AmrapCounting(),
    (AmrapFile(),),
    late={"FormatForecast": "tallywire.formats.amrap.forecast"},
)
