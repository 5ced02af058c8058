"""Fixed work against the clock in the competition file."""

from __future__ import annotations

from typing import ClassVar

from tallywire.formats.format_file import FormatFile


class ForTimeFile(FormatFile):
    """Nothing but stations and a cap; equal counts may be parted by a time."""

    tie_broken: ClassVar[bool] = True
