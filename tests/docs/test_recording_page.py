"""docs/recording.md says what the schema, the rules and the shipped recording say."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import orjson
import pytest

from core.folding import fold
from docs.kinds_table import DOCUMENT, tables, written
from tallywire.core.errors import FactRefused
from tallywire.core.facts import Fact
from tallywire.shell.files import load_competition
from tallywire.wire.checked_recording import read_checked
from tallywire.wire.fact_lines import fact_line, read_fact
from tallywire.wire.recording import read_recording, recording_line
from tallywire.wire.roles import ROLES
from tallywire.wire.rules import Sender, check

SCENARIOS = Path(__file__).parents[2] / "scenarios"
TEXT = DOCUMENT.read_text(encoding="utf-8")


def blocks(info: str) -> list[str]:
    """Give the fenced blocks of the page that carry this information."""
    return re.findall(f"^```{info}\n(.*?)^```", TEXT, re.DOTALL | re.MULTILINE)


def made_up(word: str) -> list[Fact]:
    """Give the facts of the made-up example that has this word in it, and no refused line."""
    [text] = [text for text in blocks("ndjson made-up") if word in text and "refused" not in text]
    return list(read_recording("page", text.encode()))


def test_the_tables_are_those_of_the_schema() -> None:
    """Every kind and every field stands in the page as the schema has it; run `python tests/docs/kinds_table.py`."""
    assert written(TEXT) == TEXT


def test_each_row_of_a_table_is_one_line() -> None:
    """No meaning breaks its table in two (GitHub Flavored Markdown 0.29, 4.10: a table ends at an empty line)."""
    assert [line for table in tables().values() for line in table.splitlines() if not line.startswith("| ")] == []


def test_the_quoted_lines_are_from_the_recording() -> None:
    """Lines not marked as made up stand in the shipped recording, each exactly once, and show eight kinds."""
    recorded = (SCENARIOS / "saltmarsh-women-2.ndjson").read_text(encoding="utf-8").splitlines()
    quoted = "".join(blocks("ndjson")).splitlines()
    assert {line: recorded.count(line) for line in quoted} == dict.fromkeys(quoted, 1)
    assert len({orjson.loads(line)["fact"] for line in quoted}) == 8


def test_the_voided_void_lets_the_tap_stand() -> None:
    """The made-up lines about a void of a void fold into one repetition; without the last, into none."""
    facts = made_up("fact_voided")
    competition = load_competition(SCENARIOS / "saltmarsh.toml")
    done = [fold(competition, "women-2", facts[:upto]).lanes[1].scored_reps for upto in (1, 2, 3)]
    assert done == [1, 0, 1]


def test_the_false_start_takes_its_touch_with_it() -> None:
    """Of the made-up lines about a false start the first touch never counts, and the second was made at 15 s."""
    facts = [replace(fact, heat="women-2") for fact in made_up("heat_recalled")]
    state = fold(load_competition(SCENARIOS / "saltmarsh.toml"), "women-2", facts)
    assert (state.lanes[1].tally.done, state.lanes[1].tally.reached_ms) == (1, 15_000)


def test_the_example_of_version_2_is_one() -> None:
    """The made-up file of version 2 has the checksums that a reader asks for."""
    [text] = blocks("ndjson made-up v2")
    recording = read_checked("page", text.encode())
    assert len(recording.lines) == 1
    assert recording.competition is not None


def test_the_refused_line_is_what_the_journal_writes() -> None:
    """The made-up refused line is what the rules and the export make of that fact, and a reader passes it over."""
    [text] = [text for text in blocks("ndjson made-up") if "refused" in text]
    data = orjson.loads(text)
    data.pop("refused")
    fact = read_fact(data)
    with pytest.raises(FactRefused) as refusal:
        check(fact, Sender(name=fact.sender, role=ROLES["table"]), load_competition(SCENARIOS / "saltmarsh.toml"))
    assert recording_line(fact_line(fact), orjson.dumps(refusal.value.as_data())).decode() == text
    start = blocks("ndjson")[0].encode()
    assert read_recording("page", start + text.encode()) == read_recording("page", start)
