"""`tallywire check` says everything at once: n mistakes planted in a sound file are n problems in one run."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from tallywire.cli.main import main

SCENARIOS = Path(__file__).parents[2] / "scenarios"
FILES = {name: (SCENARIOS / name).read_text(encoding="utf-8") for name in ("saltmarsh.toml", "saltmarsh-lanes.csv")}
HEAT = "saltmarsh-women-2.ndjson"
Plant = Callable[[random.Random, dict[str, str]], None]


def changed(pattern: str, new: str) -> Plant:
    """Change one place that a pattern finds, drawn at random."""

    def plant(draw: random.Random, files: dict[str, str]) -> None:
        text = files["saltmarsh.toml"]
        found = draw.choice(list(re.finditer(pattern, text, re.MULTILINE)))
        files["saltmarsh.toml"] = text[: found.start()] + found.expand(new) + text[found.end() :]

    return plant


def added(text: str, *, file: str = "saltmarsh.toml") -> Plant:
    """Add tables, or a line of the start list, at the end. `{n}` is a number that nothing else has."""

    def plant(draw: random.Random, files: dict[str, str]) -> None:
        files[file] = files[file].rstrip("\n") + "\n" + text.replace("{n}", str(draw.randrange(1000, 10**9))) + "\n"

    return plant


def lane_taken(_draw: random.Random, files: dict[str, str]) -> None:
    """Move somebody to a lane that is taken."""
    files[LANES] = files[LANES].replace("women-1,2,", "women-1,1,")


ENTRY = '[[entry]]\nid = "{n}"\nname = "Somebody {n}"\ndivision = "women"\n'
HEAT_LATER = '[[heat]]\nid = "h{n}"\nname = "Heat {n}"\nevent = "ebb-tide"\nseeded_later = true\n'
OUTPUT = '[[output]]\nid = "o{n}"\nname = "Output {n}"\n'
LANES = "saltmarsh-lanes.csv"
PLANTS: dict[str, Plant] = {
    "a misspelt format": changed(r'^format = "for_time"', 'format = "for_tme"'),
    "an amount of nothing": changed(r"^amount = \d+", "amount = 0"),
    "an amount in words": changed(r"^amount = \d+", 'amount = "ten"'),
    "a time cap without a colon": changed(r'^time_cap = "10:00"', "time_cap = 10"),
    "loads of an unknown division": changed(r'^loads = { women = "45 kg"', 'loads = { boys = "45 kg"'),
    "a tie-break at no station": changed(r"round = 3, station = 4", "round = 3, station = 9"),
    "a record of no division": changed(r'^when = (.*)\ndivision = "women"', r'when = \1\ndivision = "girls"'),
    "too many decimals": changed(r"^\[competition\]", "[competition]\ntime_decimals = 7"),
    "an odd way to round": changed(r"^\[competition\]", '[competition]\ntime_rounding = "sideways"'),
    "a cut to nobody": changed(r"^size = 10", "size = 0"),
    "a start without an offset": changed(r"T09:25:00\+02:00", "T09:25:00"),
    "an event with no points table": changed(r'^points = "last-ten"', 'points = "lst-ten"'),
    "an unknown table": added("[weather]\nrain = true"),
    "an unknown field": added(ENTRY + 'shrt = "S"'),
    "an entry of no division": added(ENTRY.replace("women", "wimmen")),
    "an id given twice": added(ENTRY.replace('id = "{n}"', 'id = "w1"')),
    "an id with a space": added(ENTRY.replace('id = "{n}"', 'id = "w {n}"')),
    "a blank name": added(ENTRY.replace("Somebody {n}", "   ")),
    "a name with a bell": added(ENTRY.replace("Somebody {n}", "Some\\u0007body")),
    "a home that is a number": added(ENTRY + "home = 7"),
    "a short form that is long": added(ENTRY + f'short = "{"S" * 30}"'),
    "one who left after no event": added(ENTRY + 'left_after = "lunch"'),
    "a heat of no event": added(HEAT_LATER.replace("ebb-tide", "flood-tide")),
    "a heat without lanes": added(HEAT_LATER.replace("seeded_later = true", "seeded_later = false")),
    "a heat that is called floor": added(HEAT_LATER.replace('"h{n}"', '"floor"')),
    "a heat without a name": added(HEAT_LATER.replace('name = "Heat {n}"\n', "")),
    "a lane that is none": added(HEAT_LATER + 'lanes = { 100 = "w1" }'),
    "a heat on no floor": added(HEAT_LATER + 'floor = "north"'),
    "an odd size": added(OUTPUT + 'size = "800x600"'),
    "a delay below nothing": added(OUTPUT + "delay_seconds = -1"),
    "a rundown of no output": added('[[rundown]]\noutput = "moon{n}"\nitem = [{ view = "heat" }]'),
    "points that rise": added('[[points]]\nid = "p{n}"\nplaces = [1, 2, 3]'),
    "a start list's odd lane": added("women-1,eleven,w1,Somebody", file=LANES),
    "a start list's unknown heat": added("women-9,1,w1,Somebody", file=LANES),
    "a start list's unknown entry": added("women-1,{n},w{n},Somebody".replace(",{n},", ",77,", 1), file=LANES),
    "a start list's lane a second time": lane_taken,
}
"""Mistakes by name, each worth one problem wherever it stands."""
SEPARATE = [
    {"an amount of nothing", "an amount in words"},
    {"too many decimals", "an odd way to round"},
    {"a misspelt format", "a tie-break at no station"},
]
"""Mistakes that may meet in one value, or of which one makes the other unknowable: of each set, one a file."""


def problems(path: Path, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """Check a file and give its problems, whose number stands in the first line."""
    status = main(["check", str(path)])
    said = capsys.readouterr()
    lines = [line.strip() for line in said.err.splitlines() if line.startswith("  ")]
    assert status == (2 if lines else 0), said.err + said.out
    counted = re.search(r": (\d+) problems?$", said.err, re.MULTILINE)
    assert int(counted[1] if counted else 0) == len(lines)
    return lines


def write(folder: Path, files: dict[str, str]) -> Path:
    """Write a competition and its start list."""
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder / "saltmarsh.toml"


@pytest.mark.parametrize("name", PLANTS)
def test_a_mistake_is_one_problem_with_its_place(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each mistake alone is one problem, that names the line of the file in which it stands."""
    files = dict(FILES)
    PLANTS[name](random.Random(name), files)
    [found] = problems(write(tmp_path, files), capsys)
    assert re.search(r"\bline \d+", found), found
    assert not re.search(r"pattern|schema|pydantic|string|dict\b|NoneType", found), found


@pytest.mark.parametrize("turn", range(30))
def test_thirty_broken_files_give_all_their_problems(
    turn: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Any mistakes together, drawn afresh in every run, are as many problems in one run, none hidden and none added."""
    seed = f"{turn} {random.randrange(10**9)}"
    draw = random.Random(seed)
    names = draw.sample(list(PLANTS), draw.randint(2, 20))
    for apart in SEPARATE:
        both = [name for name in names if name in apart]
        names = [name for name in names if name not in both[1:]]
    files = dict(FILES)
    for name in names:
        PLANTS[name](draw, files)
    found = problems(write(tmp_path, files), capsys)
    assert len(found) == len(names), f"seed {seed}: planted {sorted(names)}, found:\n" + "\n".join(found)


WRONG_LINES = [
    "not JSON",
    "[]",
    '{"fact":"weather","id":"x.1","heat":"women-2","at_ms":1,"sender":"x","sequence":1}',
    '{"fact":"rep_counted","id":"lane-1-x.1","heat":"women-2","at_ms":-5,"sender":"lane-1-x","sequence":1,"lane":1}',
    '{"fact":"rep_counted","id":"lane-1-x.1","heat":"women-2","at_ms":5,"sender":"lane-1-x","sequence":1}',
    '{"fact":"rep_counted","id":"lane-1-x.1","heat":"women-2","at_ms":5,"sender":"lane-1-x","sequence":"1","lane":1}',
    "9" * 70_000,
]


@pytest.mark.parametrize("turn", range(5))
def test_a_broken_recording_gives_all_its_lines(turn: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each wrong line of a recording is a problem with its number, all in one run."""
    seed = f"{turn} {random.randrange(10**9)}"
    draw = random.Random(seed)
    lines = (SCENARIOS / HEAT).read_text(encoding="utf-8").splitlines()
    places = sorted(draw.sample(range(len(lines)), draw.randint(2, 12)))
    for at in places:
        lines[at] = draw.choice(WRONG_LINES)
    (tmp_path / HEAT).write_text("\n".join(lines), encoding="utf-8")
    assert main(["results", str(SCENARIOS / "saltmarsh.toml"), str(tmp_path / HEAT)]) == 2
    found = re.findall(r"^  line (\d+): found ", capsys.readouterr().err, re.MULTILINE)
    assert [int(each) for each in found] == [at + 1 for at in places], f"seed {seed}"


def test_equal_heat_names_are_a_remark(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two heats of one event that are called alike are remarked on with both ids; the file is sound all the same."""
    text = FILES["saltmarsh.toml"].replace('name = "Women, heat 2"', 'name = "women,  heat 1"')
    path = write(tmp_path, FILES | {"saltmarsh.toml": text})
    assert main(["check", str(path)]) == 0
    said = capsys.readouterr().out
    assert 'remark: women-1 and women-2 have one name, "Women, heat 1"' in said
    assert json.dumps(said).count("have one name") == 1
