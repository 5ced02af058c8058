"""What every table of the competition file is made of: ids, texts, and the refusal of what is unknown."""

from __future__ import annotations

import unicodedata
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

ID_SHAPE = r"^[A-Za-z0-9][A-Za-z0-9._:-]{0,63}$"
FLOOR_SHAPE = r"^[A-Za-z0-9][A-Za-z0-9_-]{0,31}$"
COLOUR_SHAPE = r"^#[0-9a-fA-F]{6}$"
LANE_SHAPE = r"^[1-9][0-9]?$"
_HIDDEN = {"Cc", "Cs", "Zl", "Zp"}
"""Unicode's control characters, surrogates, and separators of lines and paragraphs. Joiners and marks of direction
(Cf) belong to names in many scripts."""


def shown_in_full(text: str) -> str:
    """Give a text back. Raises ValueError for control characters and line breaks, which no picture can show."""
    for position, letter in enumerate(text, start=1):
        if unicodedata.category(letter) in _HIDDEN:
            raise ValueError(
                f"text without control characters or line breaks: there is U+{ord(letter):04X} at {position}"
            )
    return text


def not_blank(text: str) -> str:
    """Give a text back. Raises ValueError for one of spaces alone."""
    if text and not text.strip():
        raise ValueError("text that is not blank")
    return text


Id = Annotated[str, Field(pattern=ID_SHAPE)]
Line = Annotated[str, AfterValidator(shown_in_full)]
"""Text that stands in a picture, and may be empty."""
Text = Annotated[Line, Field(min_length=1, max_length=80), AfterValidator(not_blank)]


class FileTable(BaseModel):
    """Base of every table: unknown fields are refused, and values are not converted to another type."""

    # Each is built with the table that holds it: one by one they cost a tenth of the server's start.
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, defer_build=True)
