"""What every table of the competition file is made of: ids, texts, and the refusal of what is unknown."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Id = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._:-]{0,63}$")]
Text = Annotated[str, Field(min_length=1, max_length=80)]


class FileTable(BaseModel):
    """Base of every table: unknown fields are refused, and values are not converted to another type."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)
