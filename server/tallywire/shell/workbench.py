"""The competition file on the workbench: read, checked as somebody types, and written so that nothing is lost."""

from __future__ import annotations

import asyncio
import hashlib
import time
import tomllib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tallywire.core.errors import BadFile, NotAllowed, Problem, TallywireError
from tallywire.core.model.competition import Competition
from tallywire.core.model.outputs import Item
from tallywire.shell.data_folder import write_whole
from tallywire.shell.files import attached, load_text
from tallywire.wire.competition_draft import draft_problems, typed
from tallywire.wire.competition_file import competition_from
from tallywire.wire.toml_lines import located

EARLIER_MOST = 20
"""So many earlier versions are kept beside the file."""
DRAFT_LIMIT = 2 * 1024 * 1024
"""So many bytes a draft, and the file, may have."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OnBench:
    """The file as it is now. `version` changes with every byte of it and is empty while there is no file.

    `data` is None for a file that is no TOML; `problems` says why, and everything else that is wrong.
    """

    version: str
    text: str
    data: dict[str, Any] | None
    problems: tuple[Problem, ...]


class Workbench:
    """One competition file and those who change it. `renewed` is set when the server is to start again with it."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.renewed = asyncio.Event()

    def look(self) -> OnBench:
        """Read the file. Raises BadFile for one that cannot be read as text."""
        if not self.path.exists():
            return OnBench(version="", text="", data={}, problems=())
        text = load_text(self.path)
        version = hashlib.sha256(self.path.read_bytes()).hexdigest()[:16]
        try:
            data = tomllib.loads(text)
        except tomllib.TOMLDecodeError as exc:
            wrong = (Problem("the file", str(exc), "TOML: mend it in a text editor"),)
            return OnBench(version=version, text=text, data=None, problems=wrong)
        problems = tuple(located(self._problems(data), text))
        return OnBench(version=version, text=text, data=data, problems=problems)

    def check(self, draft: Mapping[str, Any]) -> list[Problem]:
        """Say everything that is wrong with a draft. Raises BadMessage for one that no file can say."""
        return self._problems(typed(draft))

    def save(self, draft: Mapping[str, Any], *, version: str, begun: Mapping[str, Competition]) -> OnBench:
        """Write a draft that was made from this version of the file; the earlier one is kept beside it.

        `begun` are the heats that have begun, with the competition in which they did. Raises NotAllowed when the file
        was changed meanwhile or a heat that has begun would be another one, BadFile for a draft with problems.
        """
        now, data = self.look(), typed(draft)
        if now.version != version:
            raise NotAllowed("found a file that was changed meanwhile, expected the one that was opened: open it again")
        if now.data is None:
            raise BadFile(self.path.name, now.problems)
        try:
            competition = competition_from(self.path.name, data, self._attached)
        except BadFile as exc:
            raise BadFile(self.path.name, exc.problems) from exc
        for heat, old in begun.items():
            wrong = changed_under(heat, old, competition)
            if wrong is not None:
                raise NotAllowed(wrong)
        self._write(_edited(now.text, data))
        return self.look()

    def save_rundown(self, output: str, rundown: Sequence[Item]) -> None:
        """Write the rundown of an output into the file, as `save` does. Raises TallywireError."""
        now = self.look()
        if now.data is None or now.problems:
            raise BadFile(self.path.name, now.problems)
        data = _with_rundown(now.data, output, rundown)
        problems = self._problems(data)
        if problems:
            raise BadFile(self.path.name, problems)
        self._write(_edited(now.text, data))

    def load(self) -> Competition:
        """Read the competition. Raises BadFile."""
        return competition_from(self.path.name, tomllib.loads(load_text(self.path)), self._attached)

    def _problems(self, data: dict[str, Any]) -> list[Problem]:
        return draft_problems(self.path.name, data, self._attached)

    def _attached(self, name: str) -> bytes:
        return attached(self.path.resolve().parent, name)

    def _write(self, text: str) -> None:
        data = text.encode()
        if len(data) > DRAFT_LIMIT:
            raise NotAllowed(f"found {len(data)} bytes, expected {DRAFT_LIMIT} at most: use a text editor")
        try:
            _keep_earlier(self.path)
            _write_file(self.path, data)
        except OSError as exc:
            remedy = "make room, or its folder writable"
            raise TallywireError(f"cannot write {self.path.name} ({exc.strerror}): {remedy}") from exc


def _with_rundown(data: dict[str, Any], output: str, rundown: Sequence[Item]) -> dict[str, Any]:
    """Give what a file says with another rundown of an output, where the one before stood."""
    lines = [{name: value for name, value in _table(each).items() if value} for each in rundown]
    planned = {each["output"]: each for each in data.get("rundown", [])} | {output: {"output": output, "item": lines}}
    kept = [each for each in planned.values() if each["item"]]
    others = {name: value for name, value in data.items() if name != "rundown"}
    return others | ({"rundown": kept} if kept else {})


def _table(item: Item) -> dict[str, str]:
    """Give a line of a rundown as the file has it."""
    return {"name": item.name, "view": item.view, **item.params}


def changed_under(heat: str, old: Competition, new: Competition) -> str | None:
    """Say what of a heat that has begun would be different; None when nothing is that its count depends on."""
    before, after = old.heats[heat], new.heats.get(heat)
    if after is None:
        return f'found heat "{before.name}" gone, expected it to stay: it has begun'
    if dict(after.lanes) != dict(before.lanes) or after.floor != before.floor:
        return f'found other lanes in heat "{before.name}", expected those with which it began'
    if after.event != before.event or new.event_of(after).workout != old.event_of(before).workout:
        return f'found another workout in heat "{before.name}", expected the one with which it began'
    return None


def _keep_earlier(path: Path) -> None:
    """Keep the file as it is under a name with the time, and no more than a number of these."""
    if not path.exists():
        return
    stamp = time.strftime("%Y-%m-%d-%H%M%S")
    _write_file(path.with_name(f"{path.name}.{stamp}.earlier"), path.read_bytes())
    kept = sorted(path.parent.glob(f"{_plain(path.name)}.*.earlier"))
    for old in kept[:-EARLIER_MOST]:
        with suppress(OSError):
            old.unlink()


def _plain(name: str) -> str:
    """Give a name in which no letter stands for others."""
    return "".join(f"[{letter}]" if letter in "*?[" else letter for letter in name)


def _write_file(path: Path, data: bytes) -> None:
    """Write a file so that it is there whole or not at all, with the rights that it had. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    mode = path.stat().st_mode & 0o777 if path.exists() else 0o644
    write_whole(path, data, beside=path.with_name(f".{path.name}.new"), mode=mode)


def _edited(text: str, data: dict[str, Any]) -> str:
    # Nobody who only serves waits for the editor of TOML.
    from tallywire.wire.toml_edit import edited

    return edited(text, data)
