"""How the words of a report are asked for: by key, so that they come in the language of whoever reads it."""

from __future__ import annotations

from typing import Protocol


class Saying(Protocol):
    """Gives a text of a catalogue with its placeholders filled; `n` chooses a plural form."""

    def __call__(self, key: str, **values: str | float) -> str:
        """Give the text of a key."""
