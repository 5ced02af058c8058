"""Takes what every recorded example gives: frames of every view at every stop, and what the command line writes.

PYTHONPATH=server:tests:scenarios python -m golden.take --dump FOLDER      # every frame as JSON to read and to diff
PYTHONPATH=server:tests:scenarios python -m golden.take --write            # write golden.json again
"""

from __future__ import annotations

import argparse
import asyncio
import hashlib
import json
import tempfile
from collections.abc import AsyncIterator, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from golden import door
from golden.examples import SEEN, Example, Fact, Stop, examples

GOLDEN = Path(__file__).with_name("golden.json")
COMMANDS = "commands"
"""Stands in the place of a view for what the command line writes."""
_DIGITS = 6
"""So many significant digits of a float count: the last bits may differ from machine to machine."""

Digests = dict[str, dict[str, str]]
"""By view and instant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One thing that must stay as it is: a frame of a view at an instant, or the lines that a command wrote."""

    example: str
    view: str
    instant: str
    content: Any

    @property
    def digest(self) -> str:
        """Give the first 16 hexadecimal digits of SHA-256 over the canonical JSON."""
        return hashlib.sha256(canonical(self.content).encode()).hexdigest()[:16]


def canonical(content: object) -> str:
    """Give JSON with sorted keys, without spaces, and with floats of six significant digits."""
    return json.dumps(_rounded(content), sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def digests(shots: Iterable[Shot]) -> Digests:
    """Give the digests of one example's shots."""
    found: Digests = {}
    for shot in shots:
        instants = found.setdefault(shot.view, {})
        assert shot.instant not in instants, f"two shots of {shot.example} {shot.view} {shot.instant}"
        instants[shot.instant] = shot.digest
    return found


def take(example: Example) -> Iterator[Shot]:
    """Take every shot of an example."""
    yield from _commands(example)
    yield from asyncio.run(_all(example))


async def _all(example: Example) -> list[Shot]:
    return [shot async for shot in _frames(example)]


async def _frames(example: Example) -> AsyncIterator[Shot]:
    async for stop, view, frame in frames_of(example):
        yield Shot(example=example.name, view=view, instant=stop.name, content=_steady(frame))


async def frames_of(example: Example) -> AsyncIterator[tuple[Stop, str, dict[str, Any]]]:
    """Give the whole frame of every view at every stop."""
    zero = example.zero_unix_ms
    coming = sorted(example.facts, key=lambda fact: zero[fact["heat"]] + fact["at_ms"])
    seen: Mapping[str, Any] = {}
    async with door.opened(example.competition, unix_ms=min(zero.values()) - 60_000) as opened:
        for stop in example.stops:
            now_ms = zero[stop.heat] + stop.at_ms
            due = [fact for fact in coming if zero[fact["heat"]] + fact["at_ms"] <= now_ms]
            coming = coming[len(due) :]
            await opened.reach(now_ms, due + _said(stop, seen))
            for view in door.VIEWS:
                if view != "call" or stop.calls:
                    frame = await opened.frame(view, stop.heat)
                    seen = frame if view == "table" else seen
                    yield stop, view, frame


def _steady(frame: dict[str, Any]) -> dict[str, Any]:
    """Leave out what another thread works out in its own time: when a lane has stalled."""
    pads = frame.get("pads", {})
    told = {lane: {name: data for name, data in of.items() if name != "stalled_after_ms"} for lane, of in pads.items()}
    return frame | ({"pads": told} if told else {})


def _said(stop: Stop, seen: Mapping[str, Any]) -> list[Fact]:
    return [fact | {"digest": seen["result"]["digest"]} if fact.get("digest") == SEEN else fact for fact in stop.says]


def _commands(example: Example) -> Iterator[Shot]:
    """What the command line gives of the recordings, which stay as they are whatever is mended at a stop."""
    if example.name != "-".join(path.stem for path in example.recordings) and len(example.recordings) == 1:
        return
    competition, files = str(example.competition), [str(path) for path in example.recordings]
    written = {"standings": door.printed("standings", competition, *files, "--format", "json")}
    written["standings-table"] = door.printed("standings", competition, *files)
    if len(files) == 1:
        written |= _of_one(example, competition, files[0])
    for name, text in written.items():
        yield Shot(example=example.name, view=COMMANDS, instant=name, content=text.splitlines())


def _of_one(example: Example, competition: str, recording: str) -> dict[str, str]:
    heat = example.facts[0]["heat"]
    with tempfile.TemporaryDirectory() as folder:
        others = [str(path) for path in _beside(example)]
        door.printed("sheets", competition, "--heat", heat, "--out", folder)
        door.printed("callsheet", competition, *others, "--heat", heat, "--out", f"{folder}/callsheet.html")
        pages = {path.stem: path.read_text(encoding="utf-8") for path in sorted(Path(folder).glob("*.html"))}
    return pages | {
        "results": door.printed("results", competition, recording, "--json"),
        "results-table": door.printed("results", competition, recording),
        "results-csv": door.printed("results", competition, recording, "--format", "csv"),
        "cues": door.printed("cues", competition, recording, "--heat", heat),
    }


def _beside(example: Example) -> list[Path]:
    """The other recordings of the competition."""
    same = [each for each in examples().values() if each.competition == example.competition]
    return sorted({path for each in same for path in each.recordings} - set(example.recordings))


def _rounded(content: Any) -> Any:
    if isinstance(content, float):
        return float(f"{content:.{_DIGITS}g}")
    if isinstance(content, dict):
        return {key: _rounded(value) for key, value in content.items()}
    return [_rounded(each) for each in content] if isinstance(content, list) else content


def dump(folder: Path, shots: Iterable[Shot]) -> int:
    """Write shots as files to read: FOLDER/EXAMPLE/VIEW/INSTANT.json. Gives how many."""
    kept = list(shots)
    for shot in kept:
        path = folder / shot.example / shot.view / f"{shot.instant}.json"
        path.parent.mkdir(parents=True, exist_ok=True)
        text = json.dumps(shot.content, sort_keys=True, ensure_ascii=False, indent=1)
        path.write_text(text + "\n", encoding="utf-8")
    return len(kept)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command."""
    arguments = _arguments(argv)
    chosen = [each for name, each in examples().items() if arguments.only in (None, name)]
    data: dict[str, Digests] = {}
    for example in chosen:
        shots = list(take(example))
        data[example.name] = digests(shots)
        if arguments.dump:
            print(dump(arguments.dump, shots), "files in", arguments.dump / example.name)
    if arguments.write:
        GOLDEN.write_text(json.dumps(data, sort_keys=True, indent=0) + "\n", encoding="utf-8")
    return 0


def _arguments(argv: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m golden.take", description="Take what every example gives.")
    parser.add_argument("--dump", type=Path, metavar="DIR", help="write every shot as JSON to read, one file each")
    parser.add_argument("--write", action="store_true", help="write golden.json again: see the golden package first")
    parser.add_argument("--only", metavar="EXAMPLE", choices=sorted(examples()), help="dump this example alone")
    arguments = parser.parse_args(argv)
    if not (arguments.dump or arguments.write) or (arguments.only and arguments.write):
        parser.error("found nothing to do, expected --dump DIR, with --only if you like, or --write without it")
    return arguments


if __name__ == "__main__":
    raise SystemExit(main())
