"""The command `rehearse`: plays a recorded heat into a server as if it were live, with every picture marked."""

from __future__ import annotations

import argparse
import asyncio
import sys
import tempfile
import threading
from collections.abc import Callable, Sequence
from contextlib import nullcontext, suppress
from dataclasses import replace
from pathlib import Path
from typing import TextIO

from tallywire.cli.files import strangers
from tallywire.cli.live import add_server_options, server_settings
from tallywire.cli.pages import announced
from tallywire.cli.results import results_text
from tallywire.cli.steer import TypedWords
from tallywire.core.errors import BadFile, Problem, TallywireError
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Competition
from tallywire.core.model.timetext import clock_text, parse_clock
from tallywire.core.rehearsal.placing import heat_places, place
from tallywire.core.reports.results import Choice
from tallywire.shell.bounded_log import bounded_log
from tallywire.shell.branch import Recorded, recorded
from tallywire.shell.clock import SystemClock
from tallywire.shell.data_folder import make_data_folder
from tallywire.shell.export import keep_competition
from tallywire.shell.files import assets, competition_beside, competition_of, load_bundle
from tallywire.shell.playback import Playback, Script
from tallywire.shell.steering import Steering
from tallywire.web.serving import Running, running
from tallywire.web.settings import Settings
from tallywire.wire.recording import read_recording

_DEMO = "saltmarsh-women-2.ndjson"
_PROGRESS_S = 1.0


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add rehearse."""
    command = commands.add_parser("rehearse", help="play recorded heats as if they were live")
    command.add_argument(
        "recording",
        type=Path,
        nargs="*",
        metavar="RECORDING",
        help="one or more, played one after the other; the data folder of a server, in use or not, counts as one and "
        "is left as it is; default: the demo heat",
    )
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
    # For a program that starts a rehearsal and must not leave it behind.
    command.add_argument("--while-stdin", action="store_true", help=argparse.SUPPRESS)
    command.set_defaults(run=run_rehearse)


def run_rehearse(arguments: argparse.Namespace) -> int:
    """Rehearse until the end, or until stopped."""
    recordings = [recorded(path) for path in arguments.recording or [assets("scenarios") / _DEMO]]
    first = recordings[0]
    source = arguments.competition or first.path
    bundle = load_bundle(arguments.competition) if arguments.competition else first.competition
    if bundle is None:
        source = competition_beside(first.path, first.facts[0].heat)
        bundle = load_bundle(source)
    competition = competition_of(bundle, name=str(source))
    for each in recordings:
        problems = strangers(competition, each.facts)
        if problems:
            raise BadFile(str(each.path), problems)
    _check_apart(recordings)
    script = _script(competition, recordings, arguments.from_ms)
    folder = nullcontext(str(arguments.data)) if arguments.data else tempfile.TemporaryDirectory(prefix="tallywire-")
    with folder as data:
        settings = replace(server_settings(arguments, Path(data)), mode="rehearsal", speed=arguments.speed)
        make_data_folder(settings.data)
        keep_competition(settings.data, bundle)
        with bounded_log(arguments.log):
            asyncio.run(_rehearse(competition, script, settings, arguments))
    return 0


def _check_apart(recordings: Sequence[Recorded]) -> None:
    """One after the other they are one show: no heat can be in two of them."""
    seen: dict[str, Path] = {}
    for each in recordings:
        for heat in {fact.heat for fact in each.facts}:
            if heat in seen:
                found = f'heat "{heat}", which is in {seen[heat]} too'
                raise BadFile(str(each.path), [Problem("the recordings", found, "each heat in one of them")])
            seen[heat] = each.path


def _script(competition: Competition, recordings: Sequence[Recorded], from_ms: int) -> Script:
    begin_ms = SystemClock().unix_ms()
    placed = place(competition, [each.facts for each in recordings], begin_ms=begin_ms)
    heats = heat_places(competition, placed)
    start_ms = heats[0].start_ms - begin_ms if heats else 0
    end_ms = max(fact.at_ms for fact in recordings[0].facts)
    if from_ms > end_ms:
        expected = f"a time up to {clock_text(end_ms)}, where the recording ends"
        raise BadFile(str(recordings[0].path), [Problem("--from", clock_text(from_ms), expected)])
    return Script(placed=placed, begin_ms=begin_ms, from_ms=start_ms + from_ms if from_ms else 0)


async def _rehearse(
    competition: Competition, script: Script, settings: Settings, arguments: argparse.Namespace
) -> None:
    talk = sys.stderr if arguments.json else sys.stdout
    async with running(competition, settings, signals=True, script=script) as server:
        playback = server.playback
        if playback is None:
            raise TallywireError("the server has no playback: start it again")
        print(f"REHEARSAL of {competition.name}, {len(script.placed)} facts at speed {settings.speed:g}", file=talk)
        print(announced(server.addresses, server.live.keys, competition, settings=settings), file=talk)
        print(f"steer it on its page, or with tallywire steer {settings.data} (or type help here)", file=talk)
        print("stop with Ctrl-C", file=talk, flush=True)
        ended, stopped = asyncio.create_task(playback.done.wait()), asyncio.create_task(server.finished())
        if arguments.while_stdin:
            _at_end_of_stdin(server.stop)
        typed = TypedWords(Steering(playback, competition), talk)
        beside = [asyncio.create_task(each) for each in (_show_progress(playback, talk), typed.listen())]
        try:
            await asyncio.wait({ended, stopped}, return_when=asyncio.FIRST_COMPLETED)
            if not stopped.done():
                print(f"\rplayed {server.live.lines} of {len(script.placed)} facts", file=talk, flush=True)
            if not stopped.done() and arguments.exit_at_end:
                _print_result(server, competition, as_json=arguments.json)
                return
            if not stopped.done():
                print("the recording has ended; it can be gone back to. Stop with Ctrl-C.", file=talk, flush=True)
            await stopped
        finally:
            for task in (ended, *beside):
                task.cancel()


def _at_end_of_stdin(stop: Callable[[], None]) -> None:
    loop = asyncio.get_running_loop()

    def wait() -> None:
        sys.stdin.buffer.read()
        with suppress(RuntimeError):
            # It has stopped by itself when its loop is closed.
            loop.call_soon_threadsafe(stop)

    threading.Thread(target=wait, daemon=True).start()


async def _show_progress(playback: Playback, talk: TextIO) -> None:
    """Rewrite one line on a terminal; elsewhere say little, so that a log stays readable."""
    while True:
        if talk.isatty():
            print(f"\r{clock_text(playback.now_ms)} of {clock_text(playback.length_ms)}", end="", file=talk, flush=True)
        await asyncio.sleep(_PROGRESS_S)


def _print_result(server: Running, competition: Competition, *, as_json: bool) -> None:
    """Print the result from the journal, not from the recording, which proves that the facts went the whole way."""
    lines = [line.body for line in server.live.journal.read() if line.refusal is None]
    facts = read_recording("the journal", b"\n".join(lines))
    sys.stdout.write(
        results_text(CompetitionBook(competition, facts).at_last_facts(), Choice(), form="json" if as_json else "table")
    )
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
