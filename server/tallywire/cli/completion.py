"""The command completion: what a shell needs to complete commands, options and file names."""

from __future__ import annotations

import argparse

import shtab


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add completion."""
    command = commands.add_parser("completion", help="print what a shell needs to complete this command")
    command.add_argument("shell", choices=shtab.SUPPORTED_SHELLS)
    command.set_defaults(run=run_completion)


def run_completion(arguments: argparse.Namespace) -> int:
    """Print the shell's script."""
    # Imported here because main imports this module.
    from tallywire.cli.main import make_parser

    print(shtab.complete(make_parser(), shell=arguments.shell))
    return 0
