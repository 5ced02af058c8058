"""What is known of senders after a start: the same, whether their facts are noted one by one or very many at once."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import given
from hypothesis import strategies as st

from core.examples import recorded
from tallywire.core.facts import Fact
from tallywire.wire.fact_lines import fact_line
from tallywire.wire.senders import Received, Senders
from tallywire.wire.trusted_lines import trusted_facts

FACTS = recorded("saltmarsh-women-2")


@given(chosen=st.lists(st.sampled_from(FACTS), max_size=40), cut=st.integers(min_value=0, max_value=40))
def test_many_at_once_are_as_one_by_one(chosen: list[Fact], cut: int) -> None:
    """In any order, with facts that come twice, in one piece or two: watermarks, ids, counts and openings agree."""
    each, together = Senders(), Senders()
    for fact in chosen:
        each.restore(Received(sender=fact.sender, sequence=fact.sequence, body=b"", fact=fact))
    together.restore_facts(chosen[:cut])
    together.restore_facts(chosen[cut:])
    assert known(together, chosen) == known(each, chosen)


def known(senders: Senders, facts: Sequence[Fact]) -> list[tuple[object, ...]]:
    """What a session asks of each sender, fact and heat."""
    return [
        (
            senders.watermark(fact.sender),
            senders.taken(fact.sender),
            senders.owner(fact.id),
            senders.has_counted(fact.sender, fact.heat),
            senders.is_opening(fact.heat),
        )
        for fact in (*facts, FACTS[0])
    ]


def test_texts_alike_are_one_object() -> None:
    """Facts of a journal share their heat, their sender and the start that they name: a fact's own are few bytes."""
    made = trusted_facts([fact_line(fact) for fact in FACTS])
    assert made == list(FACTS)
    assert len({id(fact.heat) for fact in made}) == len({fact.heat for fact in made})
    assert len({id(fact.sender) for fact in made}) == len({fact.sender for fact in made})
