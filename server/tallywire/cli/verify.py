"""The command `verify`: whether a journal is what was written, and what can be saved of one that is not."""

from __future__ import annotations

import argparse
import shutil
from pathlib import Path

from tallywire.cli.redis_options import add_which_journal
from tallywire.core.errors import BadFile
from tallywire.shell.data_folder import COMPETITION, JOURNAL, LINKS, journal_in, make_data_folder
from tallywire.shell.edges import keep_shared
from tallywire.shell.files import load_checked, load_recording
from tallywire.shell.journal.findings import Findings, runs_text
from tallywire.shell.journal.opening import RedisOptions
from tallywire.shell.journal.reading import Salvage, look, salvage

OK, DAMAGED = 0, 3
_SHOWN = 20


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add verify."""
    command = commands.add_parser("verify", help="say whether a journal is what was written, record by record")
    add_which_journal(command, "a server's --data folder, a --mirror, or an export")
    command.add_argument(
        "--salvage", type=Path, metavar="NEW", help="write what is sound to a new data folder, and say what is missing"
    )
    command.set_defaults(run=run_verify)


def run_verify(arguments: argparse.Namespace) -> int:
    """Print what was found; 0 when all is sound, 3 for damage."""
    if arguments.redis is not None:
        return _verify_redis(RedisOptions(url=arguments.redis), arguments.salvage)
    if arguments.data.is_file():
        return _verify_file(arguments.data)
    path = journal_in(arguments.data)
    if arguments.salvage is None:
        return _said(look(path))
    make_data_folder(arguments.salvage)
    saved = salvage(path, arguments.salvage / JOURNAL)
    for name in (LINKS, COMPETITION):
        if (arguments.data / name).is_file() and not (arguments.salvage / name).exists():
            shutil.copy2(arguments.data / name, arguments.salvage / name)
    return _said_saved(saved, arguments.salvage)


def _verify_redis(redis: RedisOptions, new: Path | None) -> int:
    from tallywire.shell.journal.on_redis import reading

    if new is None:
        return _said(reading.look(redis.place()))
    make_data_folder(new)
    saved = reading.salvage(redis.place(), new / JOURNAL)
    keep_shared(redis, new)
    return _said_saved(saved, new)


def _said(found: Findings) -> int:
    print("\n".join(findings_text(found)))
    return DAMAGED if found.faults else OK


def _said_saved(saved: Salvage, new: Path) -> int:
    print("\n".join([*findings_text(saved.found), *_saved_text(saved, new)]))
    return OK


def _verify_file(path: Path) -> int:
    """A recording, such as an export."""
    try:
        facts, checked = load_recording(path), load_checked(path)
    except BadFile as exc:
        print(exc)
        return DAMAGED
    proof = "no checksums (version 1), every line can be read" if checked is None else "version 2, no damage"
    print(f"{path}: {len(facts)} facts, {proof}")
    return OK


def findings_text(found: Findings) -> list[str]:
    """Give what was found as lines: the first one bad, and what is sound."""
    seal = "no seal" if found.seal is None else f"{found.seal.count} sealed"
    kind = f"version {found.version}" if found.epoch is None else f"epoch {found.epoch}"
    lines = [f"{found.where}: {kind}, {found.last} lines, {seal}, head {found.head.hex()}"]
    lines += [f"  {fault}" for fault in found.faults[:_SHOWN]]
    lines += [f"  … and {len(found.faults) - _SHOWN} more"] if found.faults[_SHOWN:] else []
    lines += [f"  {remark}: harmless to every fact, and mended by the next start" for remark in found.remarks]
    lines.append(f"  sound: {runs_text(found.sound)}")
    count = len(found.faults)
    lines.append(f"  {count} fault{'s' if count > 1 else ''}" if count else "  no damage")
    return lines


def _saved_text(saved: Salvage, folder: Path) -> list[str]:
    lines = [f"{folder}: {saved.written} lines written, numbered anew"]
    for sender, numbers in saved.gaps.items():
        shown = ", ".join(map(str, numbers[:_SHOWN])) + (" …" if numbers[_SHOWN:] else "")
        lines.append(f"  {sender}: {shown} missing")
    if saved.found.missing and saved.found.missing[-1].stop > saved.found.last:
        gone = runs_text([saved.found.missing[-1]])
        lines.append(f"  {gone} came last, and nothing says from whom: compare each lane's count with its sheet")
    lines.append(f"go on with: tallywire serve COMPETITION --data {folder}")
    return lines
