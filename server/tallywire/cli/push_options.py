"""The options that push outlets to addresses of the operator's."""

from __future__ import annotations

import argparse
from pathlib import Path

from tallywire.core.errors import TallywireError
from tallywire.wire.push import Push, read_push

_PUSHES_MOST = 16


def add_push_options(command: argparse.ArgumentParser) -> None:
    """Add what is pushed where, and with which key it is signed."""
    command.add_argument(
        "--push",
        nargs=2,
        action="append",
        default=[],
        metavar=("OUTLET", "URL"),
        help="push an outlet such as floor/heat/rows.json to an http, https, ws or wss address; may be repeated",
    )
    command.add_argument(
        "--push-key",
        type=Path,
        metavar="FILE",
        help="file with the key that signs pushes, 32 bytes or more; default: push-key in the data folder, made once",
    )


def pushes_of(arguments: argparse.Namespace) -> tuple[Push, ...]:
    """Give the pushes that were asked for. Raises TallywireError."""
    if len(arguments.push) > _PUSHES_MOST:
        raise TallywireError(f"found --push {len(arguments.push)} times, expected {_PUSHES_MOST} at most")
    return tuple(read_push(outlet, url) for outlet, url in arguments.push)
