"""The helper's own books: what they answer is what the server's books would have given, whatever has happened."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.samples import HEAT, Pad, Script, deliveries, scripts
from shell.stage import START_UNIX_MS, two_heats
from tallywire.core.cues import CueDesk
from tallywire.core.facts import Fact
from tallywire.core.forecast import predict
from tallywire.shell.books import Books, Change
from tallywire.shell.clock import FakeClock
from tallywire.shell.helper.in_place import InPlace
from tallywire.shell.helper.parcels import HEAD, Anew, facts_of, parcel, rows_of, unpack
from tallywire.shell.helper.port import Asked, Question, Tools
from tallywire.shell.helper.recipes import recipes
from tallywire.shell.helper.second_books import SecondBooks
from tallywire.shell.pace import Pace
from tallywire.shell.worked_out import CALL, STALLS, STANDINGS

WORK = two_heats()
TOOLS = Tools(competition=WORK)


class AtOnce:
    """A worker that does its work while it is asked."""

    def run(self, work: Any, done: Any) -> None:
        """Do it."""
        done(work())

    def close(self) -> None:
        """Nothing waits."""


class Twice:
    """The server's books with a helper in place, and second books that are told the same through the pipe."""

    def __init__(self) -> None:
        self.clock = FakeClock(unix_ms=START_UNIX_MS)
        self.books = Books(WORK, clock=self.clock)
        self.in_place = InPlace(self.books, recipes(TOOLS), AtOnce())
        self.second = SecondBooks(TOOLS)
        self.untold: list[Fact] = []
        self.desks = {CALL: CueDesk(), STANDINGS: CueDesk(), STALLS: CueDesk()}

    def happen(self, fact: Fact) -> None:
        """Let a fact be durable; it is told before the next question."""
        self.books.add(fact, Change())
        self.untold.append(fact)

    def restart(self) -> None:
        """Let the process die: another one is told everything in the books."""
        self.second, self.untold = SecondBooks(_through(TOOLS)), list(self.books.facts_of_heats())

    def jump(self, facts: list[Fact]) -> None:
        """Be at another moment of a rehearsal, at another pace."""
        self.books.begin_anew(facts)
        self.books.pace = Pace(unix_ms=self.clock.unix_ms(), recorded_ms=START_UNIX_MS + 30_000, rate=2.0)
        assert isinstance(_through(Anew()), Anew)
        self.second.begin_anew()
        self.untold = list(self.books.facts_of_heats())

    def same(self, what: str) -> None:
        """Ask both, and go on with the desk that they agree on."""
        given: list[Any] = []
        asked = Asked(what=what, heat=HEAT, desk=self.desks[what])
        self.in_place.ask(lambda: asked, given.append)
        self.second.take(facts_of(_through(rows_of(self.untold))))
        self.untold = []
        now_ms = self.clock.unix_ms()
        question = Question(asked=asked, unix_ms=now_ms, recorded_ms=self.books.recorded_ms(now_ms))
        answer = _through(self.second.answer(_through(question)))
        assert answer == given[0]
        if what == CALL:
            self.desks[what] = answer.desk


def _through(message: Any) -> Any:
    """What comes out of the pipe."""
    whole = parcel(message)
    assert HEAD.unpack(whole[: HEAD.size]) == (len(whole) - HEAD.size,)
    return unpack(whole[HEAD.size :])


@pytest.fixture(autouse=True, scope="module")
def few_draws() -> Any:
    """A forecast of fifty draws is as good for this, and quicker."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(predict.forecast, "__kwdefaults__", {"draws": 50})
        yield


@settings(max_examples=30)
@given(st.data(), scripts())
def test_frames_of_second_books_are_those_made_in_place(data: st.DataObject, script: Script) -> None:
    """Call, cue desk, standings and stalls are equal at random moments: with corrections, voids, false starts, with
    processes that end in mid-heat, and with jumps of a rehearsal."""
    twice, come = Twice(), list[Fact]()
    table = Pad("table-z")
    for fact in data.draw(deliveries(script)):
        twice.happen(fact)
        come.append(fact)
        twice.clock.jump(data.draw(st.sampled_from((0.0, 0.4, 3.0))))
        event = data.draw(st.sampled_from(("", "", "", "ask", "ask", "restart", "jump", "correct")))
        if event == "correct":
            twice.happen(table.correct(fact.at_ms, lane=1, scored_reps=data.draw(st.integers(0, 40))))
        if event == "restart":
            twice.restart()
        if event == "jump":
            twice.jump(come[: data.draw(st.integers(0, len(come)))])
        if event:
            twice.same(data.draw(st.sampled_from((CALL, STANDINGS, STALLS))))
    twice.same(CALL)
    twice.same(STANDINGS)


@given(st.data(), scripts())
def test_facts_come_out_of_the_pipe_as_they_went_in(data: st.DataObject, script: Script) -> None:
    """Every fact is there once, equal to what it was and of its class."""
    facts = data.draw(deliveries(script))
    out = {fact.id: fact for fact in facts_of(_through(rows_of(facts)))}
    assert out == {fact.id: fact for fact in facts}
    assert all(type(out[fact.id]) is type(fact) for fact in facts)


def test_books_without_a_fact_are_told_apart() -> None:
    """A fact that is not told makes the answer another one, so the comparison can fail."""
    twice = Twice()
    twice.happen(Pad("table-a").start())
    twice.happen(Pad("lane-1-a", 1).reps(1_000))
    twice.same(CALL)
    twice.happen(Pad("lane-2-a", 2).reps(1_500))
    twice.untold.clear()
    with pytest.raises(AssertionError):
        twice.same(CALL)
