"""The shape of `[theme]`: colours by role, a typeface, a logo."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from tallywire.core.model.theme import COLOURS
from tallywire.formats.table_base import COLOUR_SHAPE, FileTable

Colour = Annotated[str, Field(pattern=COLOUR_SHAPE, examples=["#1c2a3a"])]
FileName = Annotated[str, Field(min_length=1, max_length=120)]


class ThemeTable(FileTable):
    """[theme]: the look of the pictures on the air and on the board. Anything left out keeps our look."""

    mat: Colour | None = None
    mat_raised: Colour | None = None
    chalk: Colour | None = None
    chalk_soft: Colour | None = None
    wire: Colour | None = None
    hairline: Colour | None = None
    tape: Colour | None = None
    tape_rest: Colour | None = None
    on_tape: Colour | None = None
    finish: Colour | None = None
    cap: Colour | None = None
    out: Colour | None = None
    rehearsal: Colour | None = None
    on_rehearsal: Colour | None = None
    face: FileName | None = None
    logo: FileName | None = None

    def colours(self) -> dict[str, str]:
        """Give the colours of the file by role, in lower case."""
        given = {role: getattr(self, role.replace("-", "_")) for role in COLOURS}
        return {role: colour.lower() for role, colour in given.items() if colour is not None}
