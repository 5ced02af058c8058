"""Steering a rehearsal from a terminal: the command `steer`, and the words typed where `rehearse` runs."""

from __future__ import annotations

import argparse
import asyncio
import os
import sys
import threading
from pathlib import Path
from typing import TextIO
from urllib.error import HTTPError

import orjson

from tallywire.core.errors import BadMessage, TallywireError
from tallywire.shell.own_server import OwnServer
from tallywire.shell.steering import Steering
from tallywire.wire.steering import HELP, read_steering


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add steer."""
    command = commands.add_parser("steer", help="steer a rehearsal that runs on this machine", epilog=HELP)
    command.formatter_class = argparse.RawDescriptionHelpFormatter
    command.add_argument("data", type=Path, metavar="DIR", help="the data folder of the rehearsal, which it prints")
    command.add_argument("words", nargs="+", metavar="WORD", help="what to do, such as: to 8:30")
    command.set_defaults(run=run_steer)


def run_steer(arguments: argparse.Namespace) -> int:
    """Ask the rehearsal that has this folder, and print where it is then."""
    wish = read_steering(" ".join(arguments.words))
    try:
        server = OwnServer.noted(arguments.data)
        answer = orjson.loads(server.post("/rehearsal", wish.model_dump(exclude_none=True)))
    except HTTPError as exc:
        raise TallywireError(str(orjson.loads(exc.read())["message"])) from exc
    except (OSError, ValueError, KeyError, TypeError) as exc:
        raise TallywireError(
            f"found no rehearsal that answers in {arguments.data}, expected one that runs: "
            "use the folder that tallywire rehearse prints"
        ) from exc
    print(answer["said"])
    return 0


class TypedWords:
    """Does what is typed at the terminal, a line at a time; where nobody can type, nothing."""

    def __init__(self, steering: Steering, talk: TextIO) -> None:
        self._steering = steering
        self._talk = talk
        self._lines: asyncio.Queue[str] = asyncio.Queue()

    async def listen(self) -> None:
        """Listen until cancelled."""
        if not _is_typed_at():
            return
        loop = asyncio.get_running_loop()
        # Nothing ends a thread that waits for a line, so it must not keep the program from ending.
        threading.Thread(target=self._read, args=(loop,), daemon=True).start()
        while True:
            print(f"\r{self.answer(await self._lines.get())}", file=self._talk, flush=True)

    def answer(self, line: str) -> str:
        """Do what a line asks for, and say where the rehearsal is then, or what was expected."""
        if line.strip() in {"help", "?"}:
            return HELP
        try:
            self._steering.steer(read_steering(line))
        except BadMessage as exc:
            return str(exc)
        return self._steering.said()

    def _read(self, loop: asyncio.AbstractEventLoop) -> None:
        for line in sys.stdin:
            if line.strip():
                loop.call_soon_threadsafe(self._lines.put_nowait, line)


def _is_typed_at() -> bool:
    """Tell whether a terminal is there and this program is the one that it talks to."""
    try:
        return sys.stdin.isatty() and os.tcgetpgrp(sys.stdin.fileno()) == os.getpgrp()
    except (OSError, ValueError, AttributeError):
        return False
