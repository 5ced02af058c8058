"""Polls of outlets that the connection itself answers: hundreds a second, most for what has not changed.

Whoever polls says the same every time. Such a request becomes no task and goes through no middleware; what those look
at is looked at here, and whatever is not plain goes their way: tests/web/test_polls.py holds both ways side by side.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from tallywire.shell.outlets import Form, Handed, Outlets
from tallywire.web.admission import Visit
from tallywire.web.headers import OF_DATA
from tallywire.web.heads import HEAD_LIMIT
from tallywire.web.hosts import is_own
from tallywire.web.outlet_answer import given

Fields = Sequence[tuple[bytes, bytes]]
_PLAIN = frozenset({b"host", b"if-none-match", b"user-agent", b"accept", b"accept-encoding", b"accept-language"})
"""Fields that ask for nothing but what anybody gets; of `connection`, only that it stays."""
_TAG = re.compile(rb'"[0-9a-f]{32}"')
"""As an outlet names what it hands out; other ways of naming it are for the middlewares."""
_ADDRESSES_MOST = 1000
_REASONS = {200: b"OK", 304: b"Not Modified"}


@dataclass(frozen=True, slots=True)
class Poll:
    """A request whose head has come: its address as it was sent, its fields with small names, where it arrived and who
    sent it."""

    address: bytes
    fields: Fields
    server: str
    visit: Visit


class Polls:
    """The addresses that anybody may poll, once they were asked for and answered."""

    def __init__(self, outlets: Outlets, *, names: frozenset[str]) -> None:
        self._outlets = outlets
        self._names = names
        self._known: dict[bytes, tuple[str, str, Form]] = {}

    def know(self, address: bytes, view: str, heat: str, form: Form) -> None:
        """Answer at this address from now on. What anybody may see of a heat stays so."""
        if len(self._known) < _ADDRESSES_MOST:
            self._known[address] = (view, heat, form)

    def answer(self, poll: Poll, *, now: float, stamp: Fields) -> bytes | None:
        """Give the whole answer, with the server's own fields `stamp`; None when it is for the middlewares.

        They also get those who have to wait for their turn.
        """
        known, caller = self._known.get(poll.address), poll.visit.caller
        if known is None or caller.is_proxy:
            return None
        said = _said(poll.fields)
        if said is None or not is_own(said.get(b"host", b"").decode("latin-1"), self._names, poll.server):
            return None
        had = said.get(b"if-none-match", b"")
        if (had and not _TAG.fullmatch(had)) or caller.requests.wait_s(now, tokens=1) > 0:
            return None
        view, heat, form = known
        outlet = self._outlets.opened(view, heat)
        if outlet is None:
            return None
        caller.requests.owe(1, now)
        start, rest = _written(outlet.newest(form), form, had.decode())
        return b"".join([start, *(part for name, value in stamp for part in (name, b": ", value, b"\r\n")), rest])


def _said(fields: Fields) -> dict[bytes, bytes] | None:
    """Give what a head says; None when it is long, says something twice, or something that is not plain."""
    said = dict(fields)
    once = len(said) == len(fields)
    stays = said.pop(b"connection", b"keep-alive").lower() == b"keep-alive"
    size = sum(len(name) + len(value) for name, value in fields)
    return said if once and stays and _PLAIN.issuperset(said) and size < HEAD_LIMIT else None


@lru_cache(maxsize=64)
def _written(handed: Handed, form: Form, had: str) -> tuple[bytes, bytes]:
    """Give the status line, and what follows the server's own fields."""
    response = given(handed, form, had)
    lines = list(response.raw_headers)
    lines += [(name.lower().encode(), value.encode()) for name, value in OF_DATA.items()]
    fields = b"".join(name + b": " + value + b"\r\n" for name, value in lines)
    status = response.status_code
    start = b"HTTP/1.1 %d %s\r\n" % (status, _REASONS[status])
    return start, fields + b"\r\n" + bytes(response.body)
