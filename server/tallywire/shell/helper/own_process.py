"""The helper as a process of its own, which keeps books of its own.

It is started when something is first asked, and told every fact: first those that are in the books, then, before each
question, those that have come in since. So a tap costs nothing but an entry in a list, and a process that ended is
replaced by another one that is told everything again. A question is answered from all that was in the books when it
was sent. Questions are sent one at a time, and those that a process died of come back once.
"""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tallywire.core.facts import Fact
from tallywire.shell.books import Books
from tallywire.shell.clock import Clock
from tallywire.shell.helper.child import Child, started
from tallywire.shell.helper.parcels import Anew, Reply, rows_of
from tallywire.shell.helper.port import Asked, Condition, Done, Question, Tools
from tallywire.shell.helper.upkeep import Upkeep

START_S = 60.0
_CHUNK = 1000
_REST_S = 0.002
"""Facts are told a thousand at a time, which takes the event loop a millisecond, and then it rests: taps come first."""
_log = logging.getLogger(__name__)


@dataclass(slots=True)
class _Asking:
    """A question that has no answer yet, and how often it was sent."""

    make: Callable[[], Asked | None]
    done: Done
    sent: int = 0

    def answer(self, answer: object) -> None:
        try:
            self.done(answer)
        except Exception:
            # An error in one view must not stop the others.
            _log.exception("an answer of the helper was not taken")


class OwnProcess:
    """Starts the process, tells it what it has to know, asks it, and replaces it when it dies, hangs or fails."""

    def __init__(self, books: Books, tools: Tools, *, clock: Clock) -> None:
        self._books = books
        self._tools = tools
        self._clock = clock
        self._upkeep = Upkeep(clock)
        self._asked: deque[_Asking] = deque()
        self._untold: list[Fact] = []
        self._is_told = False
        self._wake = asyncio.Event()
        self._child: Child | None = None
        self._task: asyncio.Task[None] | None = None

    def ask(self, make: Callable[[], Asked | None], done: Done) -> None:
        """Ask, as soon as those that were asked before are answered."""
        self._asked.append(_Asking(make, done))
        self._wake.set()
        if self._task is None:
            self._task = asyncio.get_running_loop().create_task(self._keep())

    def take(self, facts: Sequence[Fact]) -> None:
        """Tell these facts before the next question. What is not told at all yet is read from the books then."""
        if self._is_told:
            self._untold += facts

    def begin_anew(self) -> None:
        """Tell everything anew before the next question."""
        self._is_told = False
        self._untold.clear()

    def condition(self) -> Condition:
        """Say how the process is."""
        return self._upkeep.condition()

    def close(self) -> None:
        """End the process."""
        if self._task is not None:
            self._task.cancel()
        if self._child is not None:
            self._child.end()

    async def _keep(self) -> None:
        """Have a process at all times, from the first question on."""
        while True:
            try:
                await self._run()
            except* TimeoutError:
                self._upkeep.ended("hung")
            except* (EOFError, ConnectionError):
                self._upkeep.ended("died")
            except* Exception:
                _log.exception("the helper process could not be run")
                self._upkeep.ended("failed")
            _log.warning("the helper process ended: the next one is started in %.1f s", self._upkeep.wait_s)
            self._recover()
            await asyncio.sleep(self._upkeep.wait_s)

    def _recover(self) -> None:
        """Have the next process told everything, and drop the question of which two have ended."""
        self._child = None
        self.begin_anew()
        if self._asked and self._asked[0].sent > 1:
            self._asked.popleft().answer(None)

    async def _run(self) -> None:
        """Start a process and ask it. Raises an exception, or a group of them, once it has ended."""
        self._upkeep.begins()
        async with started() as self._child, asyncio.TaskGroup() as both:
            both.create_task(self._child.listen())
            both.create_task(self._serve(self._child))

    async def _serve(self, child: Child) -> None:
        async with asyncio.timeout(START_S):
            await child.send(self._tools)
            await child.reply()
        self._upkeep.stands(child.pid)
        while True:
            await self._until_asked()
            async with asyncio.timeout(START_S):
                await self._tell(child)
            async with asyncio.timeout(self._upkeep.patience_s):
                await self._put(self._asked[0], child)
            self._upkeep.answered()

    async def _until_asked(self) -> None:
        while not self._asked:
            self._wake.clear()
            await self._wake.wait()

    async def _tell(self, child: Child) -> None:
        """Tell what is not told yet; all of it again when the books are filled anew meanwhile."""
        while not self._is_told or self._untold:
            if not self._is_told:
                self._is_told, self._untold = True, list(self._books.facts_of_heats())
                await child.send(Anew())
            now, self._untold = self._untold[:_CHUNK], self._untold[_CHUNK:]
            await child.send(rows_of(now))
            if self._untold:
                await asyncio.sleep(_REST_S)

    async def _put(self, asking: _Asking, child: Child) -> None:
        """Put a question, which stays in the queue until it is answered, about the books as they are now."""
        asked, now_ms = asking.make(), self._clock.unix_ms()
        reply = Reply(None)
        if asked is not None:
            asking.sent += 1
            await child.send(Question(asked=asked, unix_ms=now_ms, recorded_ms=self._books.recorded_ms(now_ms)))
            reply = await child.reply()
        if asked is not None and reply.error:
            _log.error("the %s of heat %s could not be worked out: %s", asked.what, asked.heat, reply.error)
        self._asked.popleft().answer(reply.answer)
