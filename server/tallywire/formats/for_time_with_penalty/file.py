"""Fixed work with a penalty in the competition file."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from pydantic import Field

from tallywire.formats.for_time_with_penalty.rules import CapPenalty
from tallywire.formats.format_file import FormatFile


class PenaltyFile(FormatFile):
    """The penalty is a number of seconds beside the cap."""

    field: ClassVar[str | None] = "cap_penalty_seconds"
    table: ClassVar[Any] = Annotated[float, Field(gt=0, le=600, strict=False)]

    def rules(self, own: float) -> CapPenalty:
        """Give the penalty in milliseconds."""
        return CapPenalty(each_ms=round(1000 * own))
