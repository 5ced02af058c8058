"""docs/rehearsal.md: its commands run as they stand there, and its words are those that are understood."""

from __future__ import annotations

import re
from pathlib import Path

from e2e.processes import served
from tallywire.cli.main import main
from tallywire.core.made_up.worlds import WORLDS
from tallywire.shell.files import load_recording
from tallywire.wire.steering import HELP, read_steering

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "rehearsal.md").read_text(encoding="utf-8")
LINES = re.findall(r"^    tallywire (.+)$", PAGE, re.MULTILINE)


def test_the_commands_run(tmp_path: Path, capsys: object) -> None:
    """The show on the page begins, and every line that steers it does what it says, in the order of the page."""
    [begin] = [line.split() for line in LINES if "--data rehearsal-data" in line]
    steering = [line.split() for line in LINES if line.startswith("steer ")]
    folder = tmp_path / "rehearsal-data"
    begin = [str(ROOT / word) if word.startswith("scenarios/") else word for word in begin[:-1]]
    with served(*begin, str(folder), "--port", "0"):
        assert [main(["steer", str(folder), *words[2:]]) for words in steering] == [0] * len(steering)
    said = capsys.readouterr().out.splitlines()  # type: ignore[attr-defined]
    assert len(said) == len(steering)
    assert said[2].split(" at ")[1].startswith("1:30.000, stands still")


def test_a_heat_is_made_up_as_the_page_says(tmp_path: Path) -> None:
    """The line that makes a heat up writes a recording of it, and the worlds on the page are those that there are."""
    [line] = [line.split() for line in LINES if line.startswith("simulate ")]
    made = tmp_path / line.pop()
    assert main([str(ROOT / word) if word.startswith("scenarios/") else word for word in line] + [str(made)]) == 0
    assert {fact.heat for fact in load_recording(made)} == {"chipper"}
    assert set(re.findall(r"^\| `(\w+)`[^|]* \| (?!.*:`)", PAGE.partition("--world")[2], re.MULTILINE)) >= set(WORLDS)


def test_every_word_is_on_the_page() -> None:
    """Each verb of the help is in the table, and each line of the table can be read."""
    verbs = set(re.findall(r"^ +([a-z-]+)|\| ([a-z-]+)", HELP, re.MULTILINE))
    words = " ".join(re.findall(r"^\| (`.*?) \|", PAGE.partition("## Made-up")[0], re.MULTILINE))
    assert all(f"`{first or second}" in words for first, second in verbs)
    shown = {"M:SS": "1:30", "HEAT": "heat", "KIND": "lead", "LANE": "3", "S": "5", "X": "4"}
    for line in re.findall(r"`([a-z][^`]*)`", words):
        read_steering(" ".join(shown.get(word, word) for word in line.split()))
