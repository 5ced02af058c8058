"""A client's session: who may do what, and what happens to each number of a sender."""

from __future__ import annotations

from typing import Any

import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.samples import Pad, Script, scripts
from tallywire.core.facts import LANE_FACTS, FactVoided, PenaltyGiven
from tallywire.wire.fact_lines import fact_data, read_fact
from tallywire.wire.intake import Batch
from tallywire.wire.messages import Unwatch, Watch
from tallywire.wire.roles import PAD_FACTS
from tallywire.wire.senders import Received, Senders
from tallywire.wire.session import Close, Effect, Keep, Pong, Session
from wire.talk import changed, facts, greeted, hello, said, terms, text

PAD = "lane-1-a"
TABLE = "table-a"
MACHINE = "machine-a"


def kept(effects: list[Effect]) -> Batch:
    """The batch that is to be written."""
    [keep] = [effect for effect in effects if isinstance(effect, Keep)]
    return keep.batch


def settle(senders: Senders, batch: Batch) -> None:
    """Do what the journal does: say that the entries are on disk."""
    for entry in batch.entries:
        senders.settle(entry.sender, entry.sequence)


def refusals(batch: Batch) -> list[tuple[int, str, str]]:
    """Sequence, code and message of the entries that were refused."""
    found = [(entry.sequence, orjson.loads(entry.refusal)) for entry in batch.entries if entry.refusal is not None]
    return [(sequence, error["code"], error["message"]) for sequence, error in found]


# Hello


def test_a_viewer_is_welcomed() -> None:
    """A viewer needs no key and no sender and learns the mode and the speed."""
    assert said(Session(terms()).receive(text(type="hello", role="viewer"))) == [
        {"type": "welcome", "role": "viewer", "mode": "live", "speed": 1}
    ]


def test_a_sender_learns_its_watermark() -> None:
    """A sender is told the highest of its numbers that is on disk, not those still on their way."""
    shared = terms()
    shared.senders.restore(Received(sender=PAD, sequence=1, body=b"{}", refusal=b"{}"))
    shared.senders.take(Received(sender=PAD, sequence=2, body=b"{}", refusal=b"{}"))
    [welcome] = said(Session(shared).receive(hello(PAD)))
    assert (welcome["sender"], welcome["watermark"]) == (PAD, 1)


@pytest.mark.parametrize(("lane", "welcomed"), [(2, True), (None, False), (3, False)])
def test_a_machine_names_the_lane_of_its_link(lane: int | None, welcomed: bool) -> None:
    """A machine's link may be for one lane; its hello names that lane, and its facts are of no other."""
    session = Session(terms())
    named = {} if lane is None else {"lane": lane}
    said_first = said(session.receive(text(type="hello", role="machine", key="machine-key", sender=MACHINE, **named)))
    assert (said_first[0]["type"] == "welcome") is welcomed
    if welcomed:
        batch = kept(session.receive(facts(Pad(MACHINE, 1).reps(1))))
        assert refusals(batch)[0][1] == "not_allowed"
        assert "found lane 1, expected lane 2" in refusals(batch)[0][2]


@pytest.mark.parametrize(
    "fields",
    [
        {"role": "table", "sender": TABLE, "key": "key-1"},
        {"role": "table", "sender": TABLE},
        {"role": "lane", "lane": 2, "sender": "lane-2-a", "key": "key-1"},
        {"role": "lane", "lane": 99, "sender": "lane-99-a", "key": "key-1"},
    ],
)
def test_a_wrong_key_ends_the_connection(fields: dict[str, Any]) -> None:
    """A key that does not open the role is answered with not_allowed and a close; facts stay forbidden."""
    session = Session(terms())
    effects = session.receive(text(type="hello", **fields))
    assert said(effects)[0]["code"] == "not_allowed"
    assert effects[-1] == Close(code=1008, reason="not allowed")
    assert said(session.receive(facts(Pad(PAD, 1).reps(1))))[0]["code"] == "not_allowed"


@pytest.mark.parametrize(
    ("fields", "path"),
    [
        ({"role": "lane", "sender": "lane-1-a", "key": "key-1"}, "lane"),
        ({"role": "table", "lane": 1, "sender": TABLE, "key": "table-key"}, "lane"),
        ({"role": "lane", "lane": 1, "sender": "lane-11-a", "key": "key-1"}, "sender"),
        ({"role": "lane", "lane": 1, "key": "key-1"}, "sender"),
        ({"role": "table", "sender": "lane-1-a", "key": "table-key"}, "sender"),
        ({"role": "viewer", "sender": TABLE}, "role"),
        ({"role": "viewer", "key": "table-key"}, "role"),
    ],
)
def test_fields_must_fit_the_role(fields: dict[str, Any], path: str) -> None:
    """A lane is for role lane only, and a sender's name begins with its role; the error names the field."""
    [error] = said(Session(terms()).receive(text(type="hello", **fields)))
    assert (error["code"], error["path"]) == ("bad_message", path)


def test_a_second_hello_is_refused() -> None:
    """A connection speaks for one sender; a second hello changes nothing."""
    shared = terms()
    session = greeted(shared, PAD)
    assert said(session.receive(hello(TABLE)))[0]["code"] == "bad_message"
    batch = kept(session.receive(facts(Pad(PAD, 1).reps(1))))
    assert batch.sender.name == PAD


# Watching


def test_views_are_watched_without_hello() -> None:
    """A viewer may leave hello out; what it wants to watch is passed on."""
    session = Session(terms())
    assert session.receive(text(type="watch", view="heat")) == [Watch(type="watch", view="heat")]
    assert session.receive(text(type="unwatch", view="heat")) == [Unwatch(type="unwatch", view="heat")]


@pytest.mark.parametrize(
    ("fields", "path"), [({"view": "weather"}, "view"), ({"view": "heat", "heat": "none-such"}, "heat")]
)
def test_an_unknown_view_or_heat_is_named(fields: dict[str, Any], path: str) -> None:
    """The error says which of the two is unknown and what there is."""
    [error] = said(Session(terms()).receive(text(type="watch", **fields)))
    assert (error["code"], error["path"]) == ("bad_message", path)
    assert "expected" in error["message"]


def test_a_ping_is_passed_on_for_an_answer() -> None:
    """The client's time comes back unchanged."""
    assert Session(terms()).receive(text(type="ping", t1=12.5)) == [Pong(t1=12.5)]


# Numbers


def test_facts_are_written_and_then_acknowledged() -> None:
    """New facts are written in order, and the answer names the watermark they lead to."""
    shared, pad = terms(), Pad(PAD, 1)
    session = greeted(shared, PAD)
    sent = [pad.reps(1), pad.no_rep(2)]
    batch = kept(session.receive(facts(*sent)))
    assert [entry.fact for entry in batch.entries] == sent
    settle(shared.senders, batch)
    answer = orjson.loads(session.acknowledge(batch, tally={"done": 1}))
    assert answer == {"type": "acknowledged", "sender": PAD, "watermark": 2, "refused": [], "tally": {"done": 1}}


def test_facts_may_be_sent_ahead_of_the_answer() -> None:
    """The next message continues the numbers though nothing is on disk yet."""
    session, pad = greeted(terms(), PAD), Pad(PAD, 1)
    first = kept(session.receive(facts(pad.reps(1))))
    second = kept(session.receive(facts(pad.reps(2), pad.reps(3))))
    assert [entry.sequence for entry in (*first.entries, *second.entries)] == [1, 2, 3]


def test_a_repeat_has_no_effect_and_the_same_answer() -> None:
    """A message sent twice is written once; the refusals in it are named both times."""
    shared, pad = terms(), Pad(PAD, 1)
    session = greeted(shared, PAD)
    message = facts(pad.reps(1), changed(pad.reps(2), lane=2))
    first = kept(session.receive(message))
    settle(shared.senders, first)
    again = kept(session.receive(message))
    assert again.entries == []
    assert session.acknowledge(again, tally=None) == session.acknowledge(first, tally=None)
    assert orjson.loads(session.acknowledge(again, tally=None))["refused"][0]["sequence"] == 2


def test_a_message_half_known_is_half_written() -> None:
    """Of numbers 1 to 3, with 1 and 2 known, only 3 is written, and the answer covers all three."""
    session, pad = greeted(terms(), PAD), Pad(PAD, 1)
    one, two, three = pad.reps(1), pad.reps(2), pad.reps(3)
    session.receive(facts(one, two))
    batch = kept(session.receive(facts(one, two, three)))
    assert ([entry.sequence for entry in batch.entries], batch.sequences) == ([3], [1, 2, 3])


def test_a_gap_takes_nothing_from_there_on() -> None:
    """Number 3 after 1 is answered with the number expected; the same numbers can then be sent."""
    session, pad = greeted(terms(), PAD), Pad(PAD, 1)
    one, two, three = pad.reps(1), pad.reps(2), pad.reps(3)
    effects = session.receive(facts(one, three))
    assert [entry.sequence for entry in kept(effects).entries] == [1]
    assert said(effects) == [{"type": "gap", "expected": 2, "found": 3}]
    assert said(session.receive(facts(three))) == [{"type": "gap", "expected": 2, "found": 3}]
    assert [entry.sequence for entry in kept(session.receive(facts(two, three))).entries] == [2, 3]


def test_another_fact_under_a_used_number_is_named() -> None:
    """When a second device sends its own fact under a number that holds another, the answer says so: it is not kept."""
    shared = terms()
    session = greeted(shared, PAD)
    kept(session.receive(facts(Pad(PAD, 1).reps(1))))
    clone = changed(Pad(PAD, 1).reps(9), id="other")
    batch = kept(greeted(shared, PAD).receive(facts(clone)))
    assert batch.entries == []
    [refused] = orjson.loads(session.acknowledge(batch, tally=None))["refused"]
    assert (refused["sequence"], refused["code"]) == (1, "fact_refused")
    assert "two devices" in refused["message"]


def test_two_connections_share_one_sender() -> None:
    """What the old connection has on its way is a repeat on the new one, and the numbers go on there."""
    shared, pad = terms(), Pad(PAD, 1)
    old, new = greeted(shared, PAD), greeted(shared, PAD)
    one, two = pad.reps(1), pad.reps(2)
    assert len(kept(old.receive(facts(one))).entries) == 1
    assert [entry.sequence for entry in kept(new.receive(facts(one, two))).entries] == [2]
    assert kept(old.receive(facts(two))).entries == []


# Refusals


def test_a_viewer_sends_no_facts() -> None:
    """Facts without a hello as lane or table are not allowed, and nothing is taken."""
    shared = terms()
    session = Session(shared)
    session.receive(text(type="hello", role="viewer"))
    assert said(session.receive(facts(Pad(PAD, 1).reps(1))))[0]["code"] == "not_allowed"
    assert shared.senders.taken(PAD) == 0


def test_what_this_competition_cannot_take_is_refused_and_counted() -> None:
    """Unknown heat, foreign lane, foreign sender, used id: each is written as refused and the numbers go on."""
    session, pad = greeted(terms(), PAD), Pad(PAD, 1)
    good = pad.reps(1)
    sent = [
        good,
        changed(pad.reps(2), heat="other"),
        changed(pad.reps(3), lane=2),
        changed(pad.reps(4), sender="lane-1-b"),
        changed(pad.reps(5), id=good.id),
        pad.reps(6),
    ]
    batch = kept(session.receive(facts(*sent)))
    assert [entry.sequence for entry in batch.entries] == [1, 2, 3, 4, 5, 6]
    assert [(sequence, code) for sequence, code, _ in refusals(batch)] == [
        (2, "fact_refused"),
        (3, "not_allowed"),
        (4, "not_allowed"),
        (5, "fact_refused"),
    ]
    assert [entry.fact for entry in batch.entries if entry.refusal is None] == [good, sent[5]]


def test_a_lane_that_is_not_in_the_heat_is_refused() -> None:
    """The table's fact for lane 9 of a heat with three lanes is refused, naming the lanes there are."""
    batch = kept(greeted(terms(), TABLE).receive(facts(Pad(TABLE).correct(1, 5, lane=9))))
    [(_, code, message)] = refusals(batch)
    assert (code, message) == ("fact_refused", "found lane 9, expected a lane of heat: 1, 2, 3")


@pytest.mark.parametrize("kind", [kind for kind in LANE_FACTS if kind not in PAD_FACTS])
def test_a_pad_may_not_do_the_tables_work(kind: type[Any]) -> None:
    """Every lane fact that is not a pad's own is refused from a pad and taken from the table."""
    rest = {"reason": "x", "scored_reps": 1, "points": 1, "member": 1, "load_milli": 1, "by": "x", "upheld": True}
    wanted = {name: value for name, value in rest.items() if name in kind.__dataclass_fields__}
    for sender, refused in ((PAD, True), (TABLE, False)):
        fact = kind(id="x", heat="heat", at_ms=1, sender=sender, sequence=1, lane=1, **wanted)
        found = refusals(kept(greeted(terms(), sender).receive(facts(fact))))
        assert [code for _, code, _ in found] == (["not_allowed"] if refused else [])


def test_a_pad_may_not_touch_the_heat() -> None:
    """Start, end and the voiding of heat facts are not a pad's."""
    pad = Pad(PAD, 1)
    start, end = pad.start(), pad.end(1)
    void = FactVoided(id="v", heat="heat", at_ms=1, sender=PAD, sequence=3, voids="table-a.1")
    batch = kept(greeted(terms(), PAD).receive(facts(start, end, void)))
    assert [code for _, code, _ in refusals(batch)] == ["not_allowed"] * 3


def test_one_unreadable_fact_does_not_block_the_queue() -> None:
    """A fact that cannot be read, but whose number can, is written as it came, refused, and the rest is taken."""
    session, pad = greeted(terms(), PAD), Pad(PAD, 1)
    broken = fact_data(pad.reps(1)) | {"n": "many", "extra": [1, None]}
    batch = kept(session.receive(facts(broken, {"fact": "danced", "sequence": 2}, changed(pad.reps(3), sequence=3))))
    assert [(sequence, code) for sequence, code, _ in refusals(batch)] == [(1, "bad_message"), (2, "bad_message")]
    assert orjson.loads(batch.entries[0].body) == broken
    assert batch.entries[2].refusal is None


@pytest.mark.parametrize(
    "item", [5, None, [], {}, {"sequence": 0}, {"sequence": True}, {"sequence": 1.0}, {"sequence": "1"}]
)
def test_a_fact_without_a_number_spoils_the_message(item: Any) -> None:
    """When not even the sequence can be read, nothing of the message is taken and the error says where."""
    shared = terms()
    session = greeted(shared, PAD)
    message = text(type="facts", facts=[fact_data(Pad(PAD, 1).reps(1)), item])
    [error] = said(session.receive(message))
    assert (error["code"], error["path"]) == ("bad_message", "facts[2].sequence")
    assert shared.senders.taken(PAD) == 0


def test_a_fact_nested_too_deep_spoils_the_message() -> None:
    """A fact that could not even be written down as it came is a bad message; nothing is taken."""
    shared = terms()
    session = greeted(shared, PAD)
    for depth in (300, 900):
        deep = f'{{"type":"facts","facts":[{{"sequence":1,"reason":{"[" * depth}{"]" * depth}}}]}}'
        assert said(session.receive(deep))[0]["code"] == "bad_message"
    assert shared.senders.taken(PAD) == 0


def test_an_accepted_fact_is_written_in_our_own_words() -> None:
    """The journal's bytes of an accepted fact read back as the same fact, without what merely restates a default."""
    pad = Pad(PAD, 1)
    fact = pad.reps(1)
    batch = kept(greeted(terms(), PAD).receive(facts(fact_data(fact) | {"n": 1})))
    assert read_fact(orjson.loads(batch.entries[0].body)) == fact
    assert b'"n"' not in batch.entries[0].body


def test_the_table_sends_what_the_head_judge_decides() -> None:
    """A penalty from the table is taken."""
    fact = PenaltyGiven(id="p", heat="heat", at_ms=1, sender=TABLE, sequence=1, lane=2, reason="line", reps=2)
    assert kept(greeted(terms(), TABLE).receive(facts(fact))).entries[0].fact == fact


@given(st.text() | st.binary())
def test_garbage_is_answered_and_changes_nothing(data: str | bytes) -> None:
    """Whatever arrives, the session answers with an error and goes on."""
    shared = terms()
    session = greeted(shared, PAD)
    assert [answer["code"] for answer in said(session.receive(data))] == ["bad_message"]
    assert len(kept(session.receive(facts(Pad(PAD, 1).reps(1)))).entries) == 1


@given(scripts(), st.data())
def test_any_chopping_and_repeating_takes_each_fact_once(script: Script, data: st.DataObject) -> None:
    """However a sender cuts its facts into messages, repeats and skips, each is taken once and in its order."""
    shared = terms()
    for sender, sent in script.items():
        session, entries = greeted(shared, sender), []
        for _ in range(data.draw(st.integers(0, 6))):
            first = data.draw(st.integers(0, len(sent)))
            last = data.draw(st.integers(first, len(sent)))
            if sent[first:last]:
                entries += [e for effect in session.receive(facts(*sent[first:last])) for e in _entries(effect)]
        start = shared.senders.taken(sender)
        entries += [e for effect in session.receive(facts(*sent)) for e in _entries(effect)] if sent else []
        assert [entry.fact for entry in entries] == sent
        assert start <= shared.senders.taken(sender) == len(sent)


def _entries(effect: Effect) -> list[Received]:
    return effect.batch.entries if isinstance(effect, Keep) else []


@pytest.mark.parametrize(("sender", "may"), [(None, False), ("desk-a", False), (PAD, True), (TABLE, True)])
def test_the_tables_view_is_for_those_who_send_from_the_floor(sender: str | None, may: bool) -> None:
    """Viewers and the graphics desk are told not_allowed and stay connected; pads and the table watch it."""
    session = Session(terms())
    if sender is not None:
        session.receive(hello(sender))
    effects = session.receive(text(type="watch", view="table"))
    assert any(isinstance(effect, Watch) for effect in effects) == may
    assert [message["code"] for message in said(effects)] == ([] if may else ["not_allowed"])
    assert session.receive(text(type="watch", view="heat")) == [Watch(type="watch", view="heat")]
