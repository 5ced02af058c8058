"""The options of a journal on Redis, and the command that moves its writer on purpose."""

from __future__ import annotations

import argparse
from pathlib import Path

from tallywire.core.errors import TallywireError
from tallywire.shell.journal.opening import RedisOptions

_LEASE_S = 3.0


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add handover."""
    command = commands.add_parser("handover", help="let the server that stands by take over, with a journal on Redis")
    command.add_argument("--redis", required=True, metavar="URL", help="the Redis database of both servers")
    command.set_defaults(run=run_handover)


def run_handover(arguments: argparse.Namespace) -> int:
    """Move the writer, and say under which epoch the other one writes."""
    from tallywire.shell.journal.on_redis.handover import hand_over

    place = RedisOptions(url=arguments.redis).place()
    print(f"handed over: the journal {place} is written under epoch {hand_over(place)}")
    return 0


def add_redis_options(command: argparse.ArgumentParser) -> None:
    """Add where on Redis the journal is, and how its writer is chosen."""
    command.add_argument(
        "--redis",
        metavar="URL",
        help="keep the journal in this Redis database, one for each competition, such as redis://127.0.0.1:6379/0",
    )
    command.add_argument(
        "--redis-replicas",
        type=_replicas,
        metavar="N",
        help="with --redis: acknowledge a fact only when so many replicas have it too",
    )
    command.add_argument(
        "--standby",
        action="store_true",
        help="with --redis: let another server begin, and take over when it is silent",
    )
    command.add_argument(
        "--lease",
        type=_seconds,
        metavar="SECONDS",
        help=f"with --redis: how long the writer may be silent; default: {_LEASE_S:g}",
    )


def add_which_journal(command: argparse.ArgumentParser, what: str) -> None:
    """Add which journal is read: a folder's, or one on Redis."""
    which = command.add_mutually_exclusive_group(required=True)
    which.add_argument("data", nargs="?", type=Path, metavar="DIR", help=what)
    which.add_argument("--redis", metavar="URL", help="the journal in this Redis database, also while servers have it")


def redis_options(arguments: argparse.Namespace) -> RedisOptions | None:
    """Give what the options say, None without --redis. Raises TallywireError for options that go with it alone."""
    if arguments.redis is None:
        alone = [name for name in ("redis_replicas", "standby", "lease") if getattr(arguments, name)]
        if alone:
            raise TallywireError(f"found --{alone[0].replace('_', '-')} alone, expected --redis with it")
        return None
    if arguments.mirror is not None:
        raise TallywireError("found --redis and --mirror, expected one of them: a replica is the second copy of Redis")
    return RedisOptions(
        url=arguments.redis,
        replicas=arguments.redis_replicas or 0,
        lease_ms=round(1000 * (arguments.lease or _LEASE_S)),
        standby=arguments.standby,
    )


def _replicas(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= 9):
        raise argparse.ArgumentTypeError(f'found "{text}", expected a number from 1 to 9')
    return int(text)


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0
    if not 1 <= seconds <= 60:
        raise argparse.ArgumentTypeError(f'found "{text}", expected seconds from 1 to 60')
    return seconds
