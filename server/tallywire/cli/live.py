"""Commands for the day itself: serve a competition, and export what its journal holds."""

from __future__ import annotations

import argparse
import asyncio
import sys
from pathlib import Path

from tallywire.cli.pages import page_list
from tallywire.shell.data_folder import journal_in
from tallywire.shell.files import load_competition
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.web.serving import Running, serve
from tallywire.web.settings import Settings
from tallywire.wire.recording import recording_line

DEFAULT_PORT = 8400


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add serve and export."""
    serve_command = commands.add_parser("serve", help="run a competition live")
    serve_command.add_argument("competition", type=Path, metavar="COMPETITION")
    add_server_options(serve_command, data=Path("tallywire-data"))
    serve_command.add_argument(
        "--host", default="127.0.0.1", help="address to listen on; 0.0.0.0 for the venue network"
    )
    serve_command.add_argument(
        "--allow-origin",
        action="append",
        default=[],
        metavar="ORIGIN",
        help="another address whose pages may connect, such as https://pages.example; may be repeated",
    )
    serve_command.set_defaults(run=run_serve)
    export = commands.add_parser("export", help="write the journal in a data folder as a recording")
    export.add_argument("data", type=Path, metavar="DIR")
    export.add_argument("--refused", action="store_true", help="include the facts that were refused, marked as such")
    export.set_defaults(run=run_export)


def add_server_options(command: argparse.ArgumentParser, *, data: Path | None) -> None:
    """Add where to listen and where to keep the journal."""
    command.add_argument("--port", type=_port, default=DEFAULT_PORT, metavar="N", help="default: %(default)s")
    where = "default: a new temporary folder" if data is None else "default: %(default)s"
    command.add_argument("--data", type=Path, default=data, metavar="DIR", help=f"folder for the journal; {where}")


def run_serve(arguments: argparse.Namespace) -> int:
    """Serve until stopped."""
    competition = load_competition(arguments.competition)
    settings = Settings(
        data=arguments.data,
        host=arguments.host,
        port=arguments.port,
        allow_origins=tuple(arguments.allow_origin),
    )

    def announce(server: Running) -> None:
        print(f"{competition.name}: live, journal in {settings.data}")
        print(page_list(server.address, server.live.keys, competition))
        print("stop with Ctrl-C", flush=True)

    asyncio.run(serve(competition, settings, on_listening=announce))
    return 0


def run_export(arguments: argparse.Namespace) -> int:
    """Write a recording to standard output."""
    asyncio.run(_export(journal_in(arguments.data), refused=arguments.refused))
    return 0


async def _export(path: Path, *, refused: bool) -> None:
    journal = SqliteJournal.open(path)
    try:
        for line in journal.read():
            if refused or line.refusal is None:
                sys.stdout.buffer.write(recording_line(line.body, line.refusal))
        sys.stdout.buffer.flush()
    finally:
        await journal.close()


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text) < 65_536):
        raise argparse.ArgumentTypeError(f'found "{text}", expected a port from 0 to 65535')
    return int(text)
