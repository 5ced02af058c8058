"""Fixed time in the competition file."""

from __future__ import annotations

from typing import ClassVar

from tallywire.formats.format_file import FormatFile


class AmrapFile(FormatFile):
    """The rounds are repeated until the time is up."""

    tie_broken: ClassVar[bool] = True
    endless: ClassVar[bool] = True
