"""The command `make`: an organiser makes a competition in the browser, and runs it from there."""

from __future__ import annotations

import argparse
import asyncio
from dataclasses import replace
from pathlib import Path

from tallywire.cli.live import add_server_options, serve_file, server_settings
from tallywire.core.errors import BadFile, Problem
from tallywire.shell.bounded_log import bounded_log
from tallywire.shell.files import held_in
from tallywire.shell.workbench import Workbench
from tallywire.web.making import make


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add make."""
    command = commands.add_parser("make", help="make a competition in the browser, then run it")
    command.add_argument(
        "competition", type=Path, metavar="FILE", help="a competition file; one that is not there yet is made"
    )
    add_server_options(command, data=Path("tallywire-data"))
    command.set_defaults(run=run_make)


def run_make(arguments: argparse.Namespace) -> int:
    """Serve the page until its competition is to run, then run it."""
    path = arguments.competition
    if path.is_dir() or (path.exists() and held_in(path) is not None):
        raise BadFile(str(path), [Problem("the file", "something else", "a competition file, there or to be made")])
    settings = server_settings(arguments, arguments.data)

    def announce(address: str, key: str) -> None:
        print(f"make {path.name} on this page:\n  competition maker  {address}/make/#key={key}")
        print("stop with Ctrl-C", flush=True)

    with bounded_log(arguments.log):
        port = asyncio.run(make(Workbench(path), settings, on_listening=announce))
        if port is not None:
            serve_file(path, replace(settings, port=port))
    return 0
