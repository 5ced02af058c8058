"""The books of the helper's own process: the same facts as the server's, told through the pipe.

What they add up to depends on the set of facts alone: it does not matter in which order they are told, nor how often.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from typing import Any

from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.shell.collection import uncollected
from tallywire.shell.helper.port import Question, Tools
from tallywire.shell.helper.recipes import recipes

_log = logging.getLogger(__name__)


class SecondBooks:
    """Takes facts, and answers questions from all that it has taken."""

    def __init__(self, tools: Tools) -> None:
        self._competition = tools.competition
        self._recipes = recipes(tools)
        self._book: CompetitionBook | None = None
        self._untaken: list[Fact] = []

    def begin_anew(self) -> None:
        """Forget every fact."""
        self._book = None
        self._untaken.clear()

    def take(self, facts: Sequence[Fact]) -> None:
        """Take facts; they are counted when something is asked."""
        self._untaken += facts

    def answer(self, question: Question) -> Any:
        """Work an answer out. Raises whatever is wrong in it."""
        book, asked = self._counted(), question.asked
        snapshot = book.at(unix_ms=question.unix_ms, recorded_ms=question.recorded_ms)
        recipe = self._recipes[asked.what]
        return recipe.work_out(recipe.see(snapshot, snapshot.heats[asked.heat]), asked)

    def _counted(self) -> CompetitionBook:
        facts, self._untaken = self._untaken, []
        if self._book is None:
            with uncollected():
                self._book = CompetitionBook(self._competition, facts)
            return self._book
        for fact in facts:
            try:
                self._book.add(fact)
            except Exception:
                # As in the server's books: a fact that cannot be counted must not stop the rest.
                _log.exception("fact %s was not counted", fact.id)
        return self._book
