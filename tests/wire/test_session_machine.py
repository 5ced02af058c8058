"""Sessions of several connections in any order: what is taken, answered and refused is what a plain model says."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any
from unittest.mock import patch

import orjson
import pytest
from hypothesis import Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from tallywire.wire.intake import Batch
from tallywire.wire.senders import Senders
from tallywire.wire.session import Effect, Keep, Pong, Say, Session
from wire.talk import hello, said, terms, text

NAMES = ("lane-1-a", "lane-2-b", "table-a")
NONSENSE = ("", "{}", "[1]", text(type="facts", facts=[{}]), hello("lane-1-a"))
KINDS = st.sampled_from(["rep", "rep", "rep", "lane", "heat", "unreadable"])
"""A fact that is taken, three of which the competition or the reader refuses."""


@dataclass
class Told:
    """What the model knows of a sender: what it sent under each number, and how far its facts are on disk."""

    sent: dict[int, str] = field(default_factory=dict)
    durable: int = 0

    @property
    def next(self) -> int:
        """The number that is expected."""
        return len(self.sent) + 1


def item(name: str, sequence: int, kind: str) -> dict[str, Any]:
    """Give a fact of a kind, the same for the same number and kind."""
    lane = 2 if name.startswith("lane-2") else 1
    data = {"fact": "rep_counted", "id": f"{name}.{sequence}", "heat": "heat", "at_ms": 9, "sender": name, "lane": lane}
    other: dict[str, dict[str, Any]] = {
        "rep": {},
        "lane": {"lane": 77},
        "heat": {"heat": "none"},
        "unreadable": {"at_ms": "soon"},
    }
    return {**data, "sequence": sequence, **other[kind]}


class SessionMachine(RuleBasedStateMachine):
    """Connections greet, send, repeat, skip, garble and ask, in any order, while facts become durable one by one."""

    sessions = Bundle("sessions")

    def __init__(self) -> None:
        super().__init__()
        self.senders = Senders()
        self.terms = terms(senders=self.senders)
        self.told = {name: Told() for name in NAMES}
        self.waiting: list[tuple[Session, Batch, list[int]]] = []

    @rule(target=sessions, name=st.sampled_from(NAMES))
    def join(self, name: str) -> tuple[str, Session]:
        """Greet on a new connection: the welcome says how far the sender is."""
        session = Session(self.terms)
        welcome = said(session.receive(hello(name)))[0]
        assert (welcome["type"], welcome["watermark"]) == ("welcome", self.told[name].durable)
        return name, session

    @rule(joined=sessions, back=st.integers(-2, 3), kinds=st.lists(KINDS, min_size=1, max_size=4))
    def send(self, joined: tuple[str, Session], back: int, kinds: list[str]) -> None:
        """Send some facts from a number on: new ones are kept in order, repeats are answered, a gap is named."""
        name, session = joined
        told = self.told[name]
        first = max(1, told.next - back)
        effects = session.receive(text(type="facts", facts=[item(name, first + n, k) for n, k in enumerate(kinds)]))
        answered, new = [], []
        for sequence, kind in enumerate(kinds, start=first):
            if sequence > told.next:
                break
            answered.append(sequence)
            if sequence == told.next:
                told.sent[sequence] = kind
                new.append(sequence)
        self.check_sent(effects, session, answered, new)
        gaps = [each["expected"] for each in said(effects) if each["type"] == "gap"]
        assert gaps == ([] if len(answered) == len(kinds) else [told.next])

    def check_sent(self, effects: list[Effect], session: Session, answered: list[int], new: list[int]) -> None:
        """Look at what is to be kept."""
        keeps = [each for each in effects if isinstance(each, Keep)]
        assert len(keeps) == bool(answered)
        for keep in keeps:
            assert [entry.sequence for entry in keep.batch.entries] == new
            assert keep.batch.sequences == answered
            self.waiting.append((session, keep.batch, answered))

    @rule()
    def settle(self) -> None:
        """Make the longest-waiting batch durable: its answer covers its facts, and none that are not on disk."""
        if not self.waiting:
            return
        session, batch, answered = self.waiting.pop(0)
        name = batch.sender.name
        told = self.told[name]
        for entry in batch.entries:
            self.senders.settle(name, entry.sequence)
            told.durable = max(told.durable, entry.sequence)
        answer = orjson.loads(session.acknowledge(batch, tally=None))
        assert answer["watermark"] == told.durable >= max(answered)
        refused = {each["sequence"] for each in answer["refused"]}
        assert refused >= {number for number in answered if told.sent[number] != "rep"}
        assert refused <= set(answered)

    @rule(joined=sessions, message=st.sampled_from(NONSENSE))
    def garble(self, joined: tuple[str, Session], message: str) -> None:
        """Send nonsense, or a second hello: one typed error, and nothing else."""
        effects = joined[1].receive(message)
        assert [each["type"] for each in said(effects)] == ["error"]
        assert len(effects) == 1

    @rule(joined=sessions)
    def ask_the_time(self, joined: tuple[str, Session]) -> None:
        """Ask the time."""
        assert joined[1].receive(text(type="ping", t1=5)) == [Pong(t1=5)]

    @rule()
    def send_unnamed(self) -> None:
        """Send facts without a hello: refused, and nothing is taken."""
        effects = Session(self.terms).receive(text(type="facts", facts=[item("lane-1-a", 1, "rep")]))
        assert [isinstance(each, Say) for each in effects] == [True]
        assert said(effects)[0]["code"] == "not_allowed"

    @invariant()
    def progress_is_as_told(self) -> None:
        """Each sender is where the model says, and no answer can be ahead of the disk."""
        for name, told in self.told.items():
            assert self.senders.taken(name) == len(told.sent)
            assert self.senders.watermark(name) == told.durable <= len(told.sent)


def test_sessions_do_what_the_model_says() -> None:
    """Whatever several connections of three senders say, in any order."""
    run_state_machine_as_test(SessionMachine, settings=settings())


def test_the_model_finds_an_answer_that_is_ahead_of_the_disk() -> None:
    """The machine is able to fail: a server that answers for what it took, not for what is on disk, is found."""
    quick = settings(phases=[Phase.generate], report_multiple_bugs=False)
    with patch.object(Senders, "watermark", Senders.taken), pytest.raises(AssertionError):
        run_state_machine_as_test(SessionMachine, settings=quick)
