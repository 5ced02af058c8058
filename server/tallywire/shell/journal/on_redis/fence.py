"""The scripts that write to Redis, each of which looks at the epoch first, and what their answers mean."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from tallywire.core.errors import JournalAway, JournalTaken
from tallywire.shell.journal.on_redis.client import Place


def script(name: str) -> bytes:
    """Give the text of a script."""
    return Path(__file__).with_name(f"{name}.lua").read_bytes()


def check_epoch(answer: Sequence[bytes], *, epoch: int, place: Place) -> None:
    """Raise JournalTaken when a script was refused because another writer has taken over.

    Raises JournalAway when the server has an epoch below the writer's own.
    """
    if answer[0] != b"taken":
        return
    found = int(answer[1])
    if found < epoch:
        # No server gives an epoch twice: it has lost what was written since, and must be looked at anew.
        raise JournalAway(f"found epoch {found} at {place}, expected {epoch}: it lost its newest writes")
    raise JournalTaken(f"found epoch {found} at {place}, expected {epoch}: another writer has taken over")


def check_replicas(copies: int, place: Place) -> None:
    """Raise JournalAway when fewer replicas have the newest writes than are to have them."""
    if copies < place.replicas:
        raise JournalAway(
            f"found {copies} of {place.replicas} replicas of {place} that have the newest lines: "
            "start them, or their links"
        )
