"""What one link may do on all its connections: in the wrong hands it must not fill the disk or block the loop."""

from __future__ import annotations

from hashlib import sha256

import orjson

from tallywire.core.errors import TallywireError
from tallywire.wire.allowance import Allowance

MESSAGES_A_SECOND = 400
FACTS_A_SECOND, FACTS_AT_ONCE = 1000, 20_000
"""A judge sends thirty a second at most; a pad that was offline for an hour brings thousands at once."""
UNREADABLE_COST = 50
"""How many facts more an unreadable one counts, because it takes that much longer to say what is wrong with it."""
REFUSED_A_SECOND, REFUSED_AT_ONCE = 2, 500
"""Refused facts are kept as well: a device set up wrongly sends hundreds, and one that sends garbage never stops."""
REFUSED_BYTES = 2048
_MESSAGE_LETTERS = 500


class LinkAllowance:
    """The buckets of one link."""

    def __init__(self) -> None:
        self.messages = Allowance(rate=MESSAGES_A_SECOND, burst=2 * MESSAGES_A_SECOND)
        self.facts = Allowance(rate=FACTS_A_SECOND, burst=FACTS_AT_ONCE)
        self.refused = Allowance(rate=REFUSED_A_SECOND, burst=REFUSED_AT_ONCE)


class LinkAllowances:
    """The allowances of all links whose keys were shown, so no more than there are links."""

    def __init__(self) -> None:
        self._known: dict[str, LinkAllowance] = {}

    def of(self, link: str) -> LinkAllowance:
        """Give a link's allowance, the same one for all of its connections."""
        found = self._known.get(link)
        if found is None:
            found = self._known[link] = LinkAllowance()
        return found


def kept_body(body: bytes) -> bytes:
    """Give what is kept of a refused fact: all of it if it is short, otherwise its length and its SHA-256."""
    if len(body) <= REFUSED_BYTES:
        return body
    return orjson.dumps({"omitted": {"bytes": len(body), "sha256": sha256(body).hexdigest()}})


def kept_refusal(error: TallywireError) -> bytes:
    """Give the reason of a refusal as JSON; a long message is cut."""
    return orjson.dumps({name: _cut(value) for name, value in error.as_data().items()})


def _cut(value: object) -> object:
    if isinstance(value, str) and len(value) > _MESSAGE_LETTERS:
        return f"{value[: _MESSAGE_LETTERS - 1]}…"
    return value
