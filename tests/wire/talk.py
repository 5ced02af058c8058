"""Help for tests of the wire: facts as a client writes them, messages as text, a session with known keys."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import orjson

from core.samples import competition
from tallywire.core.errors import NotAllowed
from tallywire.core.facts import Fact
from tallywire.core.model.competition import Competition
from tallywire.wire.fact_lines import fact_data
from tallywire.wire.senders import Senders
from tallywire.wire.session import Effect, Say, Session, Terms

KEYS: dict[tuple[str, int | None], str] = {
    ("table", None): "table-key",
    ("desk", None): "desk-key",
    ("machine", 2): "machine-key",
    **{("lane", n): f"key-{n}" for n in range(1, 10)},
}


def _authorise(role: str, lane: int | None, key: str, *, floor: str = "") -> str:
    assert not floor
    if KEYS.get((role, lane)) != key:
        raise NotAllowed(f"found a key that does not open role {role}: copy the page's link again")
    return f"link-{role}-{lane}"


def terms(*, senders: Senders | None = None, work: Competition | None = None) -> Terms:
    """What sessions of a test share."""
    return Terms(
        competition=work or competition(),
        senders=Senders() if senders is None else senders,
        views=("heat", "gaps", "subjects", "show", "table", "call"),
        for_senders=frozenset({"table"}),
        mode="live",
        speed=1,
        authorise=_authorise,
    )


def text(**fields: Any) -> str:
    """A message as JSON."""
    return orjson.dumps(fields).decode()


def hello(sender: str) -> str:
    """The hello of a sender called `table-…`, `desk-…` or `lane-N-…`."""
    role, _, rest = sender.partition("-")
    if role in ("table", "desk"):
        return text(type="hello", role=role, key=f"{role}-key", sender=sender)
    lane = int(rest.split("-")[0])
    return text(type="hello", role="lane", lane=lane, key=f"key-{lane}", sender=sender)


def facts(*items: Fact | dict[str, Any]) -> str:
    """A facts message."""
    return text(type="facts", facts=[fact_data(item) if isinstance(item, Fact) else item for item in items])


def changed(fact: Fact, **fields: Any) -> Fact:
    """The fact with other values in some fields."""
    return replace(fact, **fields)


def greeted(shared: Terms, sender: str) -> Session:
    """A session that has said hello."""
    session = Session(shared)
    assert said(session.receive(hello(sender)))[0]["type"] == "welcome"
    return session


def said(effects: Sequence[Effect]) -> list[dict[str, Any]]:
    """What a session answers at once."""
    return [orjson.loads(effect.payload) for effect in effects if isinstance(effect, Say)]
