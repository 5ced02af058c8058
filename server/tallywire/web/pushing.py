"""Starting the pushes that the operator asked for: nobody else can name an address to which this server connects."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Sequence

from tallywire.core.errors import TallywireError
from tallywire.shell.outlets import FOR_KEYS, Outlets
from tallywire.web.settings import Settings
from tallywire.wire.push import Push
from tallywire.wire.session import VIEWER, Terms, seen_view


def check_pushes(pushes: Sequence[Push], terms: Terms) -> None:
    """See that each outlet is one that anybody may read. Raises TallywireError."""
    for push in pushes:
        try:
            seen = seen_view(push.view, push.heat, terms=terms, role=VIEWER, place=None)
        except TallywireError as exc:
            raise TallywireError(f"--push {push.heat}/{push.view}/{push.form}: {exc}") from exc
        if seen in FOR_KEYS:
            raise TallywireError(f"--push: found view {seen}, expected one that anybody may read")


def start_pushes(settings: Settings, outlets: Outlets) -> list[asyncio.Task[None]]:
    """Begin to push; cancel the tasks to end it. Raises TallywireError when there is no key to sign with."""
    if not settings.pushes:
        return []
    # Nobody who pushes nothing waits for this import.
    from tallywire.shell.pusher import push_key

    key = push_key(settings.push_key_file, makes=settings.push_key is None)
    return [asyncio.create_task(_pushed(push, key, outlets)) for push in settings.pushes]


async def _pushed(push: Push, key: bytes, outlets: Outlets) -> None:
    from tallywire.shell.pusher import Pusher
    from tallywire.shell.senders_out import HttpOut, SocketOut

    way = SocketOut if push.is_socket else HttpOut
    await Pusher(push, way(push, key=key, now_s=time.time)).run(outlets)
