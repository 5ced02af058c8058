"""Fixed work against the clock in the competition file."""

from __future__ import annotations

from typing import ClassVar

from tallywire.formats.format_file import FormatFile


class ForTimeFile(FormatFile):
    """The file gives stations and a cap, nothing else; a tie-break time may decide between equal counts."""

    tie_broken: ClassVar[bool] = True
