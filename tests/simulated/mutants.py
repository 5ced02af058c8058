"""For each invariant a server, or a disk, that breaks it: what shows that the checks are able to fail."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import count
from typing import Any, cast

from simulated.checks import ALTERED, DOUBLED, FRAMES, LOST, ORDER, SILENT
from simulated.cuts import NotSynced
from simulated.world import Mutant, Server
from tallywire.core.facts import Fact
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.shell.books import Change
from tallywire.shell.helper.in_place import InPlace
from tallywire.shell.journal.port import Draft, Line
from tallywire.shell.recorder import Job

Groups = Sequence[tuple[Sequence[Draft], int]]


def answer_early(server: Server) -> None:
    """Acknowledge what is about to be written."""
    recorder = server.live.recorder
    commit, durable = recorder._commit, recorder._durable

    async def early(jobs: Sequence[Job]) -> None:
        durable(jobs, recorder._clock.unix_ms())
        await commit(jobs)

    _put(recorder, "_durable", lambda _jobs, _ms: None)
    _put(recorder, "_commit", early)


def write_twice(server: Server) -> None:
    """Write each draft once more, under a name of its own."""
    _on_write(server, lambda draft: [draft, replace(draft, sender=f"{draft.sender}-again")])


def alter(server: Server) -> None:
    """Write another time than was sent."""
    _on_write(server, lambda draft: [replace(draft, body=draft.body.replace(b'"at_ms":', b'"at_ms":1'))])


def take_the_last_first(server: Server) -> None:
    """Take what was queued last out of the queue first."""

    class Stack(deque[Job]):
        def popleft(self) -> Job:
            return self.pop()

    _put(server.live.recorder, "_jobs", Stack())


def miss_facts(server: Server) -> None:
    """Leave every fifth fact out of the books."""
    add, numbers = server.live.books.add, count(1)

    def some(fact: Fact, change: Change) -> None:
        if next(numbers) % 5:
            add(fact, change)

    _put(server.live.books, "add", some)


def forget_changes(server: Server) -> None:
    """Tell the fan-out of every second change only."""
    mark, numbers = server.live.fan_out.mark, count(1)

    def some(*heats: Any, **views: Any) -> None:
        if next(numbers) % 2:
            mark(*heats, **views)

    _put(server.live.fan_out, "mark", some)


def drop_jobs(server: Server) -> None:
    """Lose every fourth job on its way to the journal."""
    keep, numbers = server.live.recorder.keep, count(1)

    def some(job: Job) -> None:
        if next(numbers) % 4:
            keep(job)

    _put(server.live.recorder, "keep", some)


def answer_nobody(server: Server) -> None:
    """Write everything and tell no sender."""
    _put(server.live, "_finish", lambda _job, _snapshot: None)


def copy_nothing(server: Server) -> None:
    """Have the second copy stay as it was at the start."""
    if server.mirror is not None:
        _put(server.mirror, "_catch_up", lambda _copy: None)


def hold_for_ever(server: Server) -> None:
    """Never see that the disk has room again."""
    _put(server.journal._room, "is_there", lambda: False)


def see_what_was(server: Server) -> None:
    """Work the call and the standings out from what was first seen."""
    helper = cast(InPlace, server.live.helper)
    _put(
        helper,
        "_recipes",
        {name: replace(recipe, see=cache(recipe.see)) for name, recipe in helper._recipes.items()},
    )


def cache(see: Callable[[Snapshot, HeatSnapshot], Any]) -> Callable[[Snapshot, HeatSnapshot], Any]:
    """See a heat once, and that for ever."""
    seen = dict[str, Any]()
    return lambda snapshot, heat: seen.setdefault(heat.heat.id, see(snapshot, heat))


def _on_write(server: Server, change: Callable[[Draft], list[Draft]]) -> None:
    write = server.file.file.write

    def changed(groups: Groups) -> list[list[Line]]:
        written = write([([new for draft in drafts for new in change(draft)], at) for drafts, at in groups])
        return [lines[: len(drafts)] for lines, (drafts, _) in zip(written, groups, strict=True)]

    _put(server.file.file, "write", changed)


def _put(where: object, name: str, what: object) -> None:
    setattr(where, name, what)


MUTANTS: dict[str, tuple[Mutant, set[str]]] = {
    "a disk that is not synced before the answer": (Mutant(factory=NotSynced), {LOST}),
    "an answer before the commit": (Mutant(change=answer_early), {LOST}),
    "a fact that is written twice": (Mutant(change=write_twice), {DOUBLED, ORDER}),
    "a time that is changed": (Mutant(change=alter), {ALTERED}),
    "a queue from its other end": (Mutant(change=take_the_last_first), {ORDER}),
    "a fact that is missing in the books": (Mutant(change=miss_facts), {FRAMES}),
    "a change that the fan-out does not hear of": (Mutant(change=forget_changes), {FRAMES}),
    "a job that gets lost": (Mutant(change=drop_jobs), {LOST, SILENT, ORDER}),
    "a mirror that copies nothing": (Mutant(change=copy_nothing), {LOST}),
    "a journal that holds for ever": (Mutant(change=hold_for_ever), {LOST, SILENT}),
    "a call of what was": (Mutant(change=see_what_was, works_out=True), {FRAMES}),
    "an answer that is never given": (Mutant(change=answer_nobody), {SILENT}),
}
"""Each mutant, and the invariants of which one must be found broken."""
