"""English sentences known again by their form, so that a page says in its own language what was found or expected."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cached_property


class Forms:
    """Regular expressions by key, of which the first that fits a whole text counts.

    They are compiled when a text is first looked up: a start does without.
    """

    def __init__(self, forms: Mapping[str, str]) -> None:
        self._forms = forms

    def known(self, text: str) -> tuple[str, dict[str, str]] | None:
        """Give the key of a text's form and the values in it; None where no form fits."""
        for key, form in self._compiled:
            match = form.fullmatch(text)
            if match:
                return key, {name: value or "" for name, value in match.groupdict().items()}
        return None

    @cached_property
    def _compiled(self) -> tuple[tuple[str, re.Pattern[str]], ...]:
        return tuple((key, re.compile(form)) for key, form in self._forms.items())
