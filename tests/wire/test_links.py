"""What one link may do, all of its connections together; each bound is switched off once, and the check must notice."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

import orjson
import pytest

from core.samples import Pad
from tallywire.core.errors import BadMessage
from tallywire.wire import fact_lines, links, messages
from tallywire.wire.allowance import Allowance
from tallywire.wire.fact_lines import read_fact
from tallywire.wire.links import LinkAllowance, LinkAllowances, kept_body
from tallywire.wire.messages import FIELDS_LIMIT
from tallywire.wire.session import Close, Keep, Session
from wire.talk import facts, greeted, said, terms, text

PAD = "lane-1-a"
OFF = 1_000_000
KEPT_MOST = 500
"""As docs/reliability.md says."""


def _rubbish(first: int, count: int = 64) -> str:
    return text(type="facts", facts=[{"sequence": n, "fact": "rubbish"} for n in range(first, first + count)])


def _refused_facts_are_bounded() -> None:
    shared, kept = terms(), 0
    session = greeted(shared, PAD)
    for first in range(1, 40 * 64, 64):
        effects = session.receive(_rubbish(first), now=0.0)
        kept += sum(len(each.batch.entries) for each in effects if isinstance(each, Keep))
        if any(isinstance(each, Close) for each in effects):
            assert said(effects)[-1]["code"] == "too_many_refused"
            # Another connection of the link, and another sender name, begin where this one ended.
            session = greeted(shared, f"lane-1-{first}")
    assert kept == KEPT_MOST


def test_refused_facts_of_a_link_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    """Five hundred are kept, then the connection is closed; a new name of the same link changes nothing."""
    _refused_facts_are_bounded()
    monkeypatch.setattr(links, "REFUSED_AT_ONCE", OFF)
    with pytest.raises(AssertionError):
        _refused_facts_are_bounded()


def test_good_facts_are_taken_when_no_refused_one_is_kept_any_more() -> None:
    """A pad whose link was used up by garbage goes on counting; two refused facts a second are kept again."""
    shared = terms()
    spent = shared.links.of("link-lane-1").refused
    while spent.spend(0.0):
        pass
    session, pad = greeted(shared, PAD), Pad(PAD, 1)
    [keep] = session.receive(facts(pad.reps(1)), now=0.0)
    assert isinstance(keep, Keep)
    second = text(type="facts", facts=[{"sequence": 2, "fact": "rubbish"}])
    assert isinstance(session.receive(second, now=0.0)[-1], Close)
    [keep] = session.receive(second, now=1.0)
    assert isinstance(keep, Keep)


def test_what_comes_after_a_fact_that_is_not_kept_is_not_taken() -> None:
    """The sender's order holds: the good facts before it are taken, those after it have to be sent again."""
    shared = terms()
    while shared.links.of("link-lane-1").refused.spend(0.0):
        pass
    session, pad = greeted(shared, PAD), Pad(PAD, 1)
    first, second, third = (pad.reps(at_ms) for at_ms in (1, 2, 3))
    message = orjson.loads(facts(first, second, third))
    message["facts"][1]["fact"] = "rubbish"
    keep = session.receive(orjson.dumps(message), now=0.0)[0]
    assert isinstance(keep, Keep)
    assert keep.batch.sequences == [1]
    assert shared.senders.taken(PAD) == 1


def _kept_whole_or_by_its_digest(size: int) -> None:
    item = {"sequence": 1, "fact": "rubbish", "x": "y" * size}
    [keep] = greeted(terms(), PAD).receive(text(type="facts", facts=[item]))
    assert isinstance(keep, Keep)
    [entry] = keep.batch.entries
    whole = orjson.dumps(item)
    digest = {"omitted": {"bytes": len(whole), "sha256": sha256(whole).hexdigest()}}
    assert orjson.loads(entry.body) == (item if size == 10 else digest)
    assert len(kept_body(whole)) < 2048


@pytest.mark.parametrize("size", [10, 60_000])
def test_a_refused_fact_is_kept_whole_or_by_its_digest(size: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A short one is kept as it came; of a long one its length and SHA-256, so that anyone who has it can prove it.

    With another bound the check fails.
    """
    _kept_whole_or_by_its_digest(size)
    monkeypatch.setattr(links, "REFUSED_BYTES", 5 if size == 10 else 100_000)
    with pytest.raises(AssertionError):
        _kept_whole_or_by_its_digest(size)


def test_a_refusal_says_no_more_than_a_page(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fact with as many wrong fields as may be is refused in a few hundred letters, however long the fields are.

    Without the bound it is not.
    """
    _refused_in_a_page()
    monkeypatch.setattr(links, "_MESSAGE_LETTERS", 100_000)
    with pytest.raises(AssertionError):
        _refused_in_a_page()


def _refused_in_a_page() -> None:
    item: dict[str, Any] = {"sequence": 1, "fact": "rep_counted", **{f"f{n}" * 400: n for n in range(20)}}
    [keep] = greeted(terms(), PAD).receive(text(type="facts", facts=[item]))
    assert isinstance(keep, Keep)
    refusal = keep.batch.entries[0].refusal
    assert refusal is not None
    assert len(refusal) < 1200


def _short_about_thousands_of_fields() -> None:
    many = {f"f{n}": n for n in range(3000)}
    answer = said(Session(terms()).receive(text(type="ping", **many)))
    assert answer[0]["message"] == f"found 3001 fields, expected at most {FIELDS_LIMIT}"
    with pytest.raises(BadMessage) as caught:
        read_fact({"fact": "rep_counted", **many})
    assert len(str(caught.value)) < 200


def test_a_message_with_thousands_of_fields_is_refused_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """No error lists thousands of unknown fields, of a message or a fact: beyond the bound their number alone is said.

    Without either bound the check fails.
    """
    _short_about_thousands_of_fields()
    for module in (messages, fact_lines):
        with monkeypatch.context() as without, pytest.raises(AssertionError):
            without.setattr(module, "FIELDS_LIMIT", 100_000)
            _short_about_thousands_of_fields()


def test_connections_of_a_link_share_its_allowance() -> None:
    """Two names of one lane draw on the same buckets, another lane has its own."""
    shared = terms()
    one, two, other = (greeted(shared, name) for name in (PAD, "lane-1-b", "lane-2-a"))
    assert one.allowance is two.allowance
    assert one.allowance is not other.allowance
    assert Session(shared).allowance is None


@pytest.mark.parametrize(("sent", "waits"), [("rubbish", True), ("a rep", False)])
def test_what_cannot_be_read_counts_more(sent: str, waits: bool) -> None:
    """Good facts are waited for beyond 20,000, facts that cannot be read beyond four hundred, repeats too."""
    session = greeted(terms(), PAD)
    message = _rubbish(1, 128) if sent == "rubbish" else facts(*[Pad(PAD, 1).reps(1)] * 256)
    for _ in range(4):
        session.receive(message, now=0.0)
    assert session.allowance is not None
    assert (session.allowance.facts.wait_s(0.0) > 0) == waits


def test_an_allowance_says_how_long_to_wait() -> None:
    """What is owed is waited for at the rate, and no longer."""
    bucket = Allowance(rate=10, burst=5)
    bucket.owe(7, 0.0)
    assert bucket.wait_s(0.0) == pytest.approx(0.2)
    assert bucket.wait_s(0.2) == 0
    assert bucket.wait_s(0.2, tokens=1) == pytest.approx(0.1)
    assert not bucket.spend(0.25)
    assert bucket.spend(0.31)


def test_links_are_as_many_as_keys() -> None:
    """The same link is the same allowance."""
    known = LinkAllowances()
    assert known.of("table") is known.of("table")
    assert isinstance(known.of("lane 1"), LinkAllowance)
