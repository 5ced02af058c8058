"""What the Redis server promises of a line it has taken, compared with what an acknowledgement means."""

from __future__ import annotations

import logging
from collections.abc import Mapping

from tallywire.core.errors import JournalAway, JournalFailed
from tallywire.shell.journal.on_redis.client import RedisClient

_SETTINGS = ("appendonly", "appendfsync", "maxmemory", "maxmemory-policy")
_log = logging.getLogger(__name__)


def check_promise(client: RedisClient) -> None:
    """Log a warning for each way in which the server keeps less than an acknowledgement says.

    Raises JournalAway for a server that only copies another one.
    """
    role = client.ask("ROLE")[0].decode()
    if role != "master":
        raise JournalAway(f"found a replica at {client.place}, expected the server that it copies: promote it first")
    for weakness in weaknesses(client):
        _log.warning("the journal's server %s %s", client.place, weakness)


def weaknesses(client: RedisClient) -> list[str]:
    """Say in which ways the server keeps less than an acknowledgement says."""
    try:
        answers = client.ask_all([("CONFIG", "GET", name) for name in _SETTINGS])
    except JournalAway:
        raise
    except JournalFailed:
        return ["does not tell its settings (CONFIG GET): what it keeps at a power cut is not known"]
    settings = {name: answer[1].decode() for name, answer in zip(_SETTINGS, answers, strict=True) if answer}
    return [*_of_the_disk(settings), *_of_memory(settings)]


def _of_the_disk(settings: Mapping[str, str]) -> list[str]:
    sync = settings.get("appendfsync")
    if settings.get("appendonly") != "yes":
        return ["keeps no append-only file: when it stops, acknowledged facts are lost; set appendonly yes"]
    if sync == "always":
        return []
    lost = "of some two seconds" if sync == "everysec" else "that its system has not written yet"
    return [f"has appendfsync {sync}: a power cut takes acknowledged facts {lost}; set appendfsync always"]


def _of_memory(settings: Mapping[str, str]) -> list[str]:
    policy = settings.get("maxmemory-policy", "")
    if settings.get("maxmemory", "0") == "0" or not policy.startswith("allkeys"):
        return []
    return [f"may throw the journal out of its memory ({policy}): set maxmemory-policy noeviction"]
