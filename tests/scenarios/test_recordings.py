"""The recordings that ship with the project: written by the scripts, sound line by line."""

from __future__ import annotations

from pathlib import Path

import jsonschema
import pytest

import generate
from scenarios.raw_heat import by_lane, lines_of, of_kind
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.reports.results import Choice, result_tables
from tallywire.shell.files import load_competition, load_recording
from tallywire.wire.fact_lines import facts_schema

FOLDER = Path(__file__).parents[2] / "scenarios"
WOMEN_2 = FOLDER / "saltmarsh-women-2.ndjson"
EBB_TIDE = FOLDER / "ebb-tide-women.ndjson"


def test_the_recordings_are_what_the_scripts_give() -> None:
    """Every committed recording equals the generator's output, byte for byte."""
    assert generate.main(["--check"]) == 0
    assert {path.name for path in FOLDER.glob("*.ndjson")} == set(generate.recordings())


def test_a_recording_edited_by_hand_is_found(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The check names the one file that differs, and writing again mends it."""
    generate.main(["--into", str(tmp_path)])
    (tmp_path / EBB_TIDE.name).write_bytes(EBB_TIDE.read_bytes().replace(b'"at_ms":0', b'"at_ms":1'))
    assert generate.main(["--check", "--into", str(tmp_path)]) == 1
    told = capsys.readouterr().err
    assert EBB_TIDE.name in told
    assert WOMEN_2.name not in told
    generate.main(["--into", str(tmp_path)])
    assert generate.main(["--check", "--into", str(tmp_path)]) == 0


@pytest.mark.parametrize("recording", [WOMEN_2, EBB_TIDE], ids=lambda path: path.stem)
def test_every_line_is_a_fact_in_order(recording: Path) -> None:
    """Each line fits the printed schema; lines stand in the one order; ids and the senders' numbers are sound."""
    lines = lines_of(recording)
    assert len(load_recording(recording)) == len(lines)
    validator = jsonschema.Draft202012Validator(facts_schema())
    assert [error.message for line in lines[::7] for error in validator.iter_errors(line)] == []
    order = [(line["at_ms"], line["sender"], line["sequence"]) for line in lines]
    assert order == sorted(order)
    assert len({line["id"] for line in lines}) == len(lines)
    sequences: dict[str, list[int]] = {}
    for line in lines:
        sequences.setdefault(line["sender"], []).append(line["sequence"])
    assert all(numbers == list(range(1, len(numbers) + 1)) for numbers in sequences.values())


@pytest.mark.parametrize("recording", [WOMEN_2, EBB_TIDE], ids=lambda path: path.stem)
def test_each_lane_has_one_pad_and_the_table_starts_and_ends(recording: Path) -> None:
    """A pad speaks for its own lane alone; start, end and what puts judges right come from the table."""
    lines = lines_of(recording)
    pads: dict[int, set[str]] = {}
    for line in lines:
        if line["sender"].startswith("table-"):
            continue
        assert line["sender"].startswith(f"lane-{line['lane']}-")
        pads.setdefault(line["lane"], set()).add(line["sender"])
    assert sorted(pads) == list(range(1, 11))
    assert all(len(senders) == 1 for senders in pads.values())
    from_table = {line["fact"] for line in lines if line["sender"].startswith("table-")}
    assert from_table >= {"heat_started", "heat_ended"}
    assert (lines[0]["fact"], lines[0]["at_ms"], lines[-1]["fact"]) == ("heat_started", 0, "heat_ended")


def test_the_result_of_the_amrap() -> None:
    """Ebb Tide ends by count: whole laps of 29 and what was done of the next, equal counts sharing the place."""
    book = CompetitionBook(load_competition(FOLDER / "saltmarsh.toml"), load_recording(EBB_TIDE))
    rows = [row for table in result_tables(book.at_last_facts(), Choice()) for row in table.rows]
    by_hand: dict[int, int] = {}
    for lane, lines in by_lane(lines_of(EBB_TIDE)).items():
        units = sum(line.get("n", 1) for line in of_kind(lines, "rep_counted") if line["at_ms"] <= 600_000)
        by_hand[lane] = units + len([line for line in of_kind(lines, "block_completed") if line["at_ms"] <= 600_000])
    assert {row.lane: row.scored_reps for row in rows} == by_hand
    assert [(row.place, row.scored_reps) for row in rows] == [
        (1, 145),
        (2, 139),
        (3, 133),
        (4, 132),
        (4, 132),
        (6, 128),
        (6, 128),
        (6, 128),
        (9, 120),
        (9, 120),
    ]
