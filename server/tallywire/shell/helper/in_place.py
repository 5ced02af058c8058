"""The helper in the server's own process: it reads the server's books, and a worker does the rest."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from tallywire.core.facts import Fact
from tallywire.shell.books import Books
from tallywire.shell.helper.port import Asked, Condition, Done
from tallywire.shell.helper.recipes import Recipe
from tallywire.shell.helper.worker import Worker

_log = logging.getLogger(__name__)


class InPlace:
    """Reading a snapshot is quick and happens on the event loop; what takes longer is for the worker."""

    def __init__(self, books: Books, recipes: Mapping[str, Recipe[Any]], worker: Worker) -> None:
        self._books = books
        self._recipes = recipes
        self._worker = worker

    def ask(self, make: Callable[[], Asked | None], done: Done) -> None:
        """Answer from the books as they are now."""
        asked = make()
        if asked is None:
            done(None)
            return
        recipe = self._recipes[asked.what]
        try:
            snapshot = self._books.snapshot()
            sight = recipe.see(snapshot, snapshot.heats[asked.heat])
        except Exception:
            # An error in one heat must not stop the others.
            _log.exception("the %s of heat %s could not be begun", asked.what, asked.heat)
            done(None)
            return
        self._worker.run(lambda: recipe.work_out(sight, asked), done)

    def take(self, facts: Sequence[Fact]) -> None:
        """Nothing is to be done: the books are read when something is asked."""

    def begin_anew(self) -> None:
        """Nothing is to be done, likewise."""

    def condition(self) -> Condition:
        """Say that it works."""
        return Condition(where="thread")

    def close(self) -> None:
        """Take no more questions."""
        self._worker.close()
