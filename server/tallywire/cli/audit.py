"""The command `audit`: the story of a heat in sentences, also while the server runs."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote

import orjson

from tallywire.core.errors import BadFile, JournalInUse, Problem
from tallywire.core.model.competition import Competition
from tallywire.shell.clock import SystemClock
from tallywire.shell.data_folder import LINKS, journal_in
from tallywire.shell.files import load_competition, load_recording
from tallywire.shell.journal.reading import sound_lines
from tallywire.shell.link_file import load_links
from tallywire.shell.own_server import OwnServer
from tallywire.shell.told import crew_links, story_data, told_facts, told_lines
from tallywire.wire.catalogue import catalogue
from tallywire.wire.problems import shown

Story = dict[str, Any]
ENGLISH = catalogue("en")


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add audit."""
    command = commands.add_parser("audit", help="tell the story of a heat: who did what, when, with which link")
    command.add_argument("competition", type=Path, metavar="COMPETITION")
    command.add_argument("source", type=Path, metavar="RECORDING", help="a recording or a data folder, in use or not")
    command.add_argument("--heat", metavar="ID", help="only this heat; otherwise every heat that has a story")
    command.add_argument("--json", action="store_true", help="as JSON")
    command.set_defaults(run=run_audit)


def run_audit(arguments: argparse.Namespace) -> int:
    """Print the stories."""
    competition = load_competition(arguments.competition)
    heats = list(competition.heats) if arguments.heat is None else [arguments.heat]
    if arguments.heat is not None and arguments.heat not in competition.heats:
        expected = f"one of {', '.join(competition.heats)}"
        raise BadFile(str(arguments.competition), [Problem("--heat", shown(arguments.heat), expected)])
    stories = list(_stories(competition, arguments.source, heats))
    if arguments.json:
        sys.stdout.write(orjson.dumps(stories, option=orjson.OPT_INDENT_2).decode() + "\n")
    else:
        sys.stdout.write("\n".join(story_text(each) for each in stories) or "no heat has a story yet\n")
    return 0


def story_text(story: Story) -> str:
    """Write a story: the heat, then a line for each thing that happened, with wall time and heat clock."""
    lines = [story["title"], *map(_line, story["sentences"])]
    return "\n".join(lines) + "\n"


def _line(sentence: dict[str, Any]) -> str:
    wall = datetime.fromtimestamp(sentence["unix_ms"] / 1000).strftime("%H:%M:%S")
    device = f"  [{sentence['device']}]" if sentence["device"] else ""
    return f"  {wall}  {sentence['clock']:>9}  {sentence['who']} {sentence['what']}.{device}"


def _stories(competition: Competition, source: Path, heats: list[str]) -> Iterator[Story]:
    found = _from_folder(competition, source, heats) if source.is_dir() else _from_file(competition, source, heats)
    return (story for story in found if story["sentences"] or len(heats) == 1)


def _from_file(competition: Competition, path: Path, heats: list[str]) -> Iterator[Story]:
    facts = load_recording(path)
    return (story_data(competition, heat, told_facts(facts, heat), ENGLISH) for heat in heats)


def _from_folder(competition: Competition, folder: Path, heats: list[str]) -> Iterator[Story]:
    try:
        lines = sound_lines(journal_in(folder)).lines
    except JournalInUse as exc:
        return iter([_asked(folder, heat, exc) for heat in heats])
    links = crew_links(load_links(folder / LINKS, now_ms=SystemClock().unix_ms).all(), competition, ENGLISH)
    return (story_data(competition, heat, told_lines(lines, heat), ENGLISH, links) for heat in heats)


def _asked(folder: Path, heat: str, why: JournalInUse) -> Story:
    """Ask the server that has the folder, which alone may read its journal."""
    try:
        story: Story = orjson.loads(OwnServer.noted(folder).get(f"/story?heat={quote(heat)}&lang={ENGLISH.language}"))
    except (OSError, ValueError, KeyError, TypeError):
        raise why from None
    return story
