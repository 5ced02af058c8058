"""`tallywire standings`, `seed` and `sheets`: from the standing to the next event's papers."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest

from cli.desk import Table, sled_event
from cli.test_results_command import Tags, said
from tallywire.core.facts import HeatEnded, HeatStarted, RepCounted
from tallywire.shell.files import load_competition

SCENARIOS = Path(__file__).parents[2] / "scenarios"


def standing(capsys: pytest.CaptureFixture[str], *arguments: object) -> dict[str, Any]:
    """Give the first division of a standing printed as JSON."""
    found: dict[str, Any] = json.loads(said(capsys, "standings", *arguments, "--format", "json"))["divisions"][0]
    return found


def points(division: dict[str, Any]) -> dict[str, tuple[int, int]]:
    """Give place and points by entry."""
    return {row["entry"]: (row["place"], row["points"]) for row in division["rows"]}


def test_the_standing_runs_and_cuts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """After the first event: 100, 90, 90 and 70; b and c cannot be parted, and the cut to three leaves d behind."""
    competition, recording, _ = sled_event(tmp_path)
    found = standing(capsys, competition, recording)
    assert points(found) == {"a": (1, 100), "b": (2, 90), "c": (2, 90), "d": (4, 70)}
    assert (found["final"], found["state"], found["still_in"]) == (False, "official", ["a", "b", "c"])
    text = said(capsys, "standings", competition, recording)
    assert "cut after Sled: 3 of 4 go on" in text
    assert "Women: running standing, 1 of 2 scores begun" in text


def test_an_appeal_and_a_deduction_reach_the_standing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With eight reps d is second and stays in; five points off put b behind c, who shares its place in the event."""
    competition, recording, table = sled_event(tmp_path)
    table.deduct("sled-2", 2, 5)
    table.write(recording)
    assert points(standing(capsys, competition, recording)) == {"a": (1, 100), "c": (2, 90), "b": (3, 85), "d": (4, 70)}
    assert "Bea <b>Bold</b>: 5 off (late)" in said(capsys, "standings", competition, recording)
    table.appeal("sled-1", 2, 8)
    table.write(recording)
    after = standing(capsys, competition, recording)
    assert points(after) == {"a": (1, 100), "d": (2, 90), "c": (3, 80), "b": (4, 75)}
    assert (after["still_in"], after["state"]) == (["a", "c", "d"], "provisional")
    then = standing(capsys, competition, recording, "--as-of", 14)
    assert points(then) == {"a": (1, 100), "b": (2, 90), "c": (2, 90), "d": (4, 70)}


def test_the_seed_is_a_start_list(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three go on to two lanes: the last of them alone in the first heat, the leader in the last; it is read back."""
    competition, recording, _ = sled_event(tmp_path)
    text = said(capsys, "seed", competition, recording, "--event", "final", "--lanes", 2)
    assert [(row["heat"], row["lane"], row["entry"]) for row in csv.DictReader(io.StringIO(text, newline=""))] == [
        ("final-1", "1", "c"),
        ("final-2", "1", "a"),
        ("final-2", "2", "b"),
    ]
    (tmp_path / "final.csv").write_bytes(text.encode())
    assert "no problems" in said(capsys, "check", competition)
    heats = load_competition(competition).heats
    assert (heats["final-1"].lanes, heats["final-2"].lanes) == ({1: "c"}, {1: "a", 2: "b"})


def test_after_the_cut_the_table_changes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In the final three race for 150, 100 and 50; those who were cut stay behind them, and the standing is final."""
    competition, recording, _ = sled_event(tmp_path)
    (tmp_path / "final.csv").write_text("heat,lane,entry\nfinal-1,1,c\nfinal-2,1,a\nfinal-2,2,b\n", encoding="utf-8")
    table = Table(competition)
    for heat, lanes in {"final-1": {1: 20}, "final-2": {1: 4, 2: 9}}.items():
        _race(table, heat, lanes)
    final = table.write(tmp_path / "final.ndjson")
    found = standing(capsys, competition, recording, final)
    assert points(found) == {"c": (1, 240), "b": (2, 190), "a": (3, 150), "d": (4, 70)}
    assert (found["final"], found["rows"][0]["scores"]["final"]["points"]) == (True, 150)
    results = json.loads(said(capsys, "results", competition, final, "--json"))["rows"]
    cells = {row["entry"]: row["scores"].get("final", {}).get("points") for row in found["rows"]}
    assert {row["entry"]: row["points"] for row in results} == {each: cells[each] for each in "abc"}
    alone = {
        row["entry"]: row["scores"].get("final", {}).get("points")
        for row in standing(capsys, competition, final)["rows"]
    }
    assert {each: alone[each] for each in "abc"} == {each: cells[each] for each in "abc"}
    both = json.loads(said(capsys, "results", competition, recording, final, "--json", "--event", "final"))["rows"]
    assert {row["entry"]: row["points"] for row in both} == {each: cells[each] for each in "abc"}


def _race(table: Table, heat: str, reps: dict[int, int]) -> None:
    table.say(HeatStarted, heat, 0, unix_ms=1)
    for lane, count in reps.items():
        table.say(RepCounted, heat, 1000, lane=lane, n=count)
    table.say(HeatEnded, heat, 300_000)


def test_the_lead_overall_turns_over(capsys: pytest.CaptureFixture[str]) -> None:
    """By hand: 13 up, and sixth for 104 against second for 138 is 21 down; third against sixth is 128 - 104 = 24."""
    found = standing(
        capsys, SCENARIOS / "saltmarsh.toml", SCENARIOS / "saltmarsh-women-2.ndjson", "--division", "women"
    )
    rows = {row["entry"]: row for row in found["rows"]}
    leader, chaser = rows["w1"], rows["w2"]
    assert leader["brought"] - chaser["brought"] == 13
    assert [row["scores"]["breakwater"]["place"] for row in (leader, chaser)] == [6, 2]
    assert chaser["points"] - leader["points"] == 21
    by_place = {row["scores"]["breakwater"]["place"]: row["scores"]["breakwater"]["points"] for row in found["rows"]}
    assert by_place[3] - by_place[6] == 24


def test_the_standing_is_a_table_for_programs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """CSV has one line an entry and the same columns for every event, raced or not. Source: Python's csv."""
    competition, recording, _ = sled_event(tmp_path)
    text = said(capsys, "standings", competition, recording, "--format", "csv")
    found = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    assert [(row["place"], row["points"], row["sled place"], row["final place"]) for row in found] == [
        ("1", "100", "1", ""),
        ("2", "90", "2", ""),
        ("2", "90", "2", ""),
        ("4", "70", "4", ""),
    ]


def test_nobody_is_seeded_before_the_cut_is_made(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """While a heat before the cut is missing nobody can say who goes on, and the heat is named."""
    competition, _, table = sled_event(tmp_path)
    table.facts = [fact for fact in table.facts if fact.heat != "sled-2"]
    recording = table.write(tmp_path / "half.ndjson")
    refused = said(capsys, "seed", competition, recording, "--event", "final", "--lanes", 2, code=2)
    assert "the cut before final: found heats that are not over: sled-2, expected all heats before it" in refused


@pytest.mark.parametrize(
    ("arguments", "problem"),
    [
        (("--event", "finl", "--lanes", 2), '--event: found "finl", expected one of sled, final'),
        (("--event", "final", "--lanes", 1), "found 2 heats (final-1, final-2), expected 3 for 3 entries on 1 lanes"),
        (("--event", "final", "--lanes", 2, "--heats", "sled-1"), '--heats: found "sled-1", expected one of final-1'),
        (("--event", "final", "--lanes", 2, "--least", 9), "found a least of 9, expected 1 to 2"),
    ],
)
def test_an_impossible_seed_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[object, ...], problem: str
) -> None:
    """An unknown event or heat, too few heats, and a least that does not fit are named with the remedy."""
    competition, recording, _ = sled_event(tmp_path)
    assert problem in said(capsys, "seed", competition, recording, *arguments, code=2)


def test_as_of_needs_one_recording(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Lines are counted in one recording; with two it is not clear which."""
    competition, recording, _ = sled_event(tmp_path)
    refused = said(capsys, "standings", competition, recording, recording, "--as-of", 3, code=2)
    assert "--as-of: found 2 recordings, expected one recording" in refused


def test_sheets_have_the_cumulative_numbers(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A lap of ten and a block counted as one: the numbers are 10, 11, 21, 22 …, with loads, boxes and signatures."""
    competition, _, _ = sled_event(tmp_path)
    said(capsys, "sheets", competition, "--event", "sled", "--out", tmp_path / "out")
    names = ["sled-1-heat.html", "sled-1-scoresheets.html", "sled-2-heat.html", "sled-2-scoresheets.html"]
    assert sorted(each.name for each in (tmp_path / "out").iterdir()) == names
    sheets = (tmp_path / "out" / "sled-2-scoresheets.html").read_text(encoding="utf-8")
    page = Tags(sheets)
    assert [word for word in page.words if word.isdigit()][:8] == ["1", "10", "1", "11", "2", "21", "2", "22"]
    assert {"60 kg", "40 Shuttle touch, counts as one", "Lane 2: Bea <b>Bold</b>"} <= set(page.words)
    assert {"judge (name and signature)", "athlete (signature)"} <= set(page.words)
    assert (sheets.count("<article>"), "script" in page.tags) == (2, False)
    heat = Tags((tmp_path / "out" / "sled-1-heat.html").read_text(encoding="utf-8"))
    assert {"Cleo & Co", "Dot", "lane"} <= set(heat.words)


@pytest.mark.parametrize(
    ("event", "words"),
    [
        ("anchor", {"attempt", "good lift", "no lift", "heaviest good lift"}),
        ("lock-ladder", {"by 1:00", "by 2:00", "60 kg", "70 kg"}),
        ("sprints", {"round", "work", "time of piece 1", "time of piece 3", "total (time)"}),
        ("tides", {"count of piece 2", "slowest piece (count)"}),
        ("sluice", {"time", "finish time"}),
    ],
)
def test_every_format_has_a_sheet(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], event: str, words: set[str]
) -> None:
    """Lifts have attempts, ladders the end of each window, and a time is written where a score depends on it."""
    said(capsys, "sheets", SCENARIOS / "estuary.toml", "--heat", event, "--out", tmp_path)
    found = Tags((tmp_path / f"{event}-scoresheets.html").read_text(encoding="utf-8")).words
    assert words <= {word.strip() for word in found}


def test_a_wide_standing_lies_on_its_side(capsys: pytest.CaptureFixture[str]) -> None:
    """With ten scores a standing is printed across the page; with one it stands upright."""
    estuary = [SCENARIOS / "estuary.toml", *sorted(SCENARIOS.glob("estuary-*.ndjson"))]
    saltmarsh = [SCENARIOS / "saltmarsh.toml", SCENARIOS / "saltmarsh-women-2.ndjson"]
    wide, upright = (said(capsys, "standings", *files, "--format", "html") for files in (estuary, saltmarsh))
    assert '<body class="wide">' in wide
    assert '<body class="wide">' not in upright
