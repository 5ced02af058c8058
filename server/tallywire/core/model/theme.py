"""The look of the pictures for viewers: colours by role, a typeface, a logo. docs/look.md gives the reasons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

COLOURS: Mapping[str, str] = {
    "mat": "#14150f",
    "mat-raised": "#22231c",
    "chalk": "#f3f0e6",
    "chalk-soft": "#bdbbb0",
    "wire": "#6a6b63",
    "hairline": "#3a3b33",
    "tape": "#ffc533",
    "tape-rest": "#a17d22",
    "on-tape": "#14150f",
    "finish": "#58d3c0",
    "cap": "#ff8a5c",
    "out": "#999991",
    "rehearsal": "#c59bff",
    "on-rehearsal": "#14150f",
}
"""Our own colours on the air and on the board, by role; overlay/shared/tokens.css has the same."""


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file that goes with the competition, as its bytes and its media type."""

    data: bytes = field(repr=False)
    media_type: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Theme:
    """What an organiser changes of the look: some colours by role, a typeface, a logo for the logo slots."""

    colours: Mapping[str, str] = field(default_factory=dict)
    face: Attachment | None = None
    logo: Attachment | None = None
