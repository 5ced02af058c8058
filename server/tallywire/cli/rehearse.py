"""The command `rehearse`: plays a recorded heat into a server as if it were live, with every picture marked."""

from __future__ import annotations

import argparse
import asyncio
import sys
import tempfile
from collections.abc import Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import TextIO

from websockets.exceptions import ConnectionClosed, WebSocketException

from tallywire.cli.files import strangers
from tallywire.cli.live import add_server_options, allowed_hosts
from tallywire.cli.pages import announced
from tallywire.cli.push_options import pushes_of
from tallywire.cli.results import results_text
from tallywire.core.errors import BadFile, Problem
from tallywire.core.facts import Fact, HeatStarted
from tallywire.core.model.competition import Competition
from tallywire.core.model.timetext import clock_text, parse_clock
from tallywire.core.reports.results import Choice
from tallywire.shell.bounded_log import bounded_log
from tallywire.shell.clock import SystemClock
from tallywire.shell.data_folder import make_data_folder
from tallywire.shell.export import keep_competition
from tallywire.shell.files import (
    assets,
    competition_beside,
    holds_competition,
    load_bundle,
    load_competition,
    load_recording,
)
from tallywire.shell.keys import Keys
from tallywire.shell.playback import Playback, PlayTarget, floors_of
from tallywire.web.serving import Running, running
from tallywire.web.settings import Settings
from tallywire.wire.recording import read_recording

_DEMO = "saltmarsh-women-2.ndjson"
_PROGRESS_S = 1.0
_GRACE_S = 5.0
"""How long a server may take to stop once the playback has lost its connection."""
_COME_BACK = 1012
"""The close code of a server that stops (IANA registry of RFC 6455 close codes: service restart)."""


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add rehearse."""
    command = commands.add_parser("rehearse", help="play a recorded heat as if it were live")
    command.add_argument("recording", type=Path, nargs="?", metavar="RECORDING", help="default: the demo heat")
    command.add_argument("--competition", type=Path, metavar="FILE", help="default: the one beside the recording")
    add_server_options(command, data=None)
    command.add_argument("--speed", type=_speed, default=1.0, metavar="X", help="how fast the clock runs; default: 1")
    command.add_argument(
        "--from",
        type=_clock,
        default=0,
        dest="from_ms",
        metavar="M:SS",
        help="play everything before this time at once",
    )
    command.add_argument("--exit-at-end", action="store_true", help="stop after the heat and print its result")
    command.add_argument("--json", action="store_true", help="print the result as JSON, and nothing else on stdout")
    command.set_defaults(run=run_rehearse)


def run_rehearse(arguments: argparse.Namespace) -> int:
    """Rehearse until the end, or until stopped."""
    recording = arguments.recording or assets("scenarios") / _DEMO
    facts = load_recording(recording)
    source = arguments.competition or (recording if holds_competition(recording) else None)
    source = source or competition_beside(recording, facts[0].heat)
    competition, bundle = load_competition(source), load_bundle(source)
    problems = [*strangers(competition, facts), *_too_late(arguments.from_ms, facts)]
    if problems:
        raise BadFile(str(recording), problems)
    folder = nullcontext(str(arguments.data)) if arguments.data else tempfile.TemporaryDirectory(prefix="tallywire-")
    with folder as data:
        settings = Settings(
            data=Path(data),
            host=arguments.host,
            port=arguments.port,
            mode="rehearsal",
            speed=arguments.speed,
            allow_hosts=allowed_hosts(arguments),
            public_url=arguments.public_url,
            print_links=arguments.print_links,
            pushes=pushes_of(arguments),
            push_key=arguments.push_key,
        )
        make_data_folder(settings.data)
        keep_competition(settings.data, bundle)
        with bounded_log(arguments.log):
            asyncio.run(_rehearse(competition, facts, settings, arguments))
    return 0


def _too_late(from_ms: int, facts: Sequence[Fact]) -> list[Problem]:
    end_ms = max(fact.at_ms for fact in facts)
    expected = f"a time up to {clock_text(end_ms)}, where the recording ends"
    return [Problem("--from", clock_text(from_ms), expected)] if from_ms > end_ms else []


async def _rehearse(
    competition: Competition, facts: Sequence[Fact], settings: Settings, arguments: argparse.Namespace
) -> None:
    talk = sys.stderr if arguments.json else sys.stdout
    async with running(competition, settings, signals=True) as server:
        print(f"REHEARSAL of {competition.name}, {len(facts)} facts at speed {settings.speed:g}", file=talk)
        print(announced(server.addresses, server.live.keys, competition, settings=settings), file=talk)
        print("stop with Ctrl-C", file=talk, flush=True)
        playing = asyncio.create_task(_play(server, facts, settings, arguments.from_ms, talk))
        stopped = asyncio.create_task(server.finished())
        await asyncio.wait({playing, stopped}, return_when=asyncio.FIRST_COMPLETED)
        if await _is_stopping(stopped, playing):
            playing.cancel()
            await stopped
            return
        await playing
        if arguments.exit_at_end:
            _print_result(server, competition, as_json=arguments.json)
            return
        print("the recording has ended; the pages stay up. Stop with Ctrl-C.", file=talk, flush=True)
        await stopped


async def _is_stopping(stopped: asyncio.Task[None], playing: asyncio.Task[None]) -> bool:
    """Whether the playback was cut off because the server stops, which closes its clients first and lets nobody in."""
    failure = playing.exception() if playing.done() else None
    if isinstance(failure, ConnectionClosed) and failure.rcvd is not None and failure.rcvd.code == _COME_BACK:
        return True
    if isinstance(failure, WebSocketException | OSError):
        await asyncio.wait({stopped}, timeout=_GRACE_S)
    return stopped.done()


async def _play(server: Running, facts: Sequence[Fact], settings: Settings, from_ms: int, talk: TextIO) -> None:
    floors = floors_of(facts, server.live.competition)
    stage = PlayTarget(
        url=server.address.replace("http", "ws", 1) + "/wire",
        key_of=lambda sender: _key_of(server.live.keys, sender, floors.get(sender, "")),
        floors=floors,
        clock=SystemClock(),
        speed=settings.speed,
        from_ms=from_ms,
    )
    playback = Playback(stage, facts, _already_started(server))
    progress = asyncio.create_task(_show_progress(playback, len(facts), talk))
    try:
        await playback.run()
    finally:
        progress.cancel()
    print(
        f"\rplayed {playback.sent} of {len(facts)} facts, heat clock {clock_text(playback.at_ms)}",
        file=talk,
        flush=True,
    )


def _key_of(keys: Keys, sender: str, floor: str) -> str:
    own = {"desk": keys.desk, "commentator": keys.commentator, "spotter": keys.spotter}.get(sender.partition("-")[0])
    if own is not None:
        return own
    return keys.lane(int(sender.split("-")[1]), floor) if sender.startswith("lane-") else keys.table


def _already_started(server: Running) -> dict[str, int]:
    """Give the wall time of each started heat's clock at 0, so that an interrupted rehearsal can go on."""
    started, speed = server.live.books.started, server.live.books.speed
    return {
        heat: round(fact.unix_ms - fact.at_ms / speed)
        for heat, fact in started.items()
        if isinstance(fact, HeatStarted)
    }


async def _show_progress(playback: Playback, total: int, talk: TextIO) -> None:
    """Rewrite one line on a terminal; elsewhere say little, so that a log stays readable."""
    while True:
        if talk.isatty():
            print(
                f"\rheat clock {clock_text(playback.at_ms)}  {playback.sent}/{total} facts",
                end="",
                file=talk,
                flush=True,
            )
        await asyncio.sleep(_PROGRESS_S)


def _print_result(server: Running, competition: Competition, *, as_json: bool) -> None:
    """Print the result from the journal, not from the recording, which proves that the facts went the whole way."""
    lines = [line.body for line in server.live.journal.read() if line.refusal is None]
    facts = read_recording("the journal", b"\n".join(lines))
    sys.stdout.write(results_text(competition, facts, Choice(), form="json" if as_json else "table"))
    sys.stdout.flush()


def _clock(text: str) -> int:
    try:
        return parse_clock(text)
    except ValueError as exc:
        raise argparse.ArgumentTypeError(str(exc)) from exc


def _speed(text: str) -> float:
    try:
        speed = float(text)
    except ValueError:
        speed = 0.0
    if not 0.1 <= speed <= 1000:
        raise argparse.ArgumentTypeError(f'found "{text}", expected a number from 0.1 to 1000')
    return speed
