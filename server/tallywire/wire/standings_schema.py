"""The shape of everything about places in the competition file: points tables, the standing, and cuts."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from tallywire.formats.table_base import FileTable, Id

Points = Annotated[float, Field(ge=0, le=1_000_000, strict=False)]
Rule = Literal[
    "count_back", "count_back_all", "count_back_scoring", "best_scores", "last_event", "latest_events", "shared"
]


class PointsTableTable(FileTable):
    """[[points]]: what a place is worth: by list, by `first` and `step`, or by a formula."""

    id: Id
    places: list[Points] | None = Field(default=None, min_length=1, max_length=1000)
    first: Points | None = None
    step: Annotated[float, Field(gt=0, le=1_000_000, strict=False)] | None = None
    formula: Annotated[str, Field(min_length=1, max_length=200)] | None = None
    scale_to: Annotated[int, Field(ge=1, le=1000)] | None = None
    least: Points | None = None


class TableFromTable(FileTable):
    """One of `tables_from` in [standings]: from this event on, events that name no table take this one."""

    event: Id
    points: Id


class StandingsTable(FileTable):
    """[standings]: how points become the standing of each division."""

    order: Literal["most", "fewest"] = "most"
    drop_worst: Annotated[int, Field(ge=0, le=100)] = 0
    drop_from: Annotated[int, Field(ge=0, le=100)] = 0
    drop_disqualified: bool = True
    ties: list[Rule] = Field(default=["count_back", "last_event"], max_length=7)
    tables_from: list[TableFromTable] = Field(default_factory=list, max_length=100)


class CutTable(FileTable):
    """[[cut]]: after an event only the best `size` of each division go on, or of the one named."""

    after: Id
    size: Annotated[int, Field(ge=1, le=5000)]
    division: Id | None = None
    ties: Literal["by_tie_rules", "keep_all", "none"] = "by_tie_rules"
