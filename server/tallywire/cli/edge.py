"""The command `edge`: a server that follows the journal on Redis and shows everything, but writes nothing."""

from __future__ import annotations

import argparse
import asyncio
import tempfile
from pathlib import Path

from tallywire.cli.live import add_helper_option, add_listening_options, allowed_hosts
from tallywire.shell.bounded_log import bounded_log
from tallywire.shell.edges import load_for_edge
from tallywire.shell.files import competition_of
from tallywire.shell.journal.opening import RedisOptions
from tallywire.web.serving import Running, serve
from tallywire.web.settings import Settings


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add edge."""
    command = commands.add_parser("edge", help="show a competition whose journal is on Redis, from another machine")
    command.add_argument("--redis", required=True, metavar="URL", help="the Redis database of the writer, or a replica")
    command.add_argument(
        "--writer", metavar="URL", help="where pads' facts go, such as http://10.0.0.2:8400; default: as it says itself"
    )
    add_listening_options(command)
    add_helper_option(command)
    command.set_defaults(run=run_edge)


def run_edge(arguments: argparse.Namespace) -> int:
    """Follow and show until stopped."""
    redis = RedisOptions(url=arguments.redis, follows=True, writer=arguments.writer)
    competition = competition_of(load_for_edge(redis), name="the writer's competition")
    with tempfile.TemporaryDirectory(prefix="tallywire-edge-") as folder, bounded_log(arguments.log):
        settings = Settings(
            data=Path(folder),
            host=arguments.host,
            port=arguments.port,
            allow_origins=tuple(arguments.allow_origin),
            address_limit=arguments.address_limit,
            allow_hosts=allowed_hosts(arguments),
            public_url=arguments.public_url,
            trusted_proxies=tuple(arguments.trusted_proxy),
            redis=redis,
            helper=arguments.helper,
        )

        def announce(server: Running) -> None:
            print(f"{competition.name}: an edge, at {server.addresses[0]}", flush=True)

        asyncio.run(serve(competition, settings, on_listening=announce))
    return 0
