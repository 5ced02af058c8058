"""The competition that ships with the project: what an organiser copies from it must be sound."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from tallywire.core.model.workout import Plan
from tallywire.core.ranking.points import worths
from tallywire.shell.files import load_competition

STEPS = (12, 10, 9, 8, 7, 7, 6, 6, 6, 5, 5, 5, 4, 4, 4, 4, 3, 3, 3)
"""How many points lie between a place and the next, first and second first, as the head of the file says it."""
FILE = Path(__file__).parents[2] / "scenarios" / "saltmarsh.toml"
COMPETITION = load_competition(FILE)


def test_the_competition_has_two_fields_of_twenty() -> None:
    """Forty entries with names of their own, short forms for small graphics, and a points table to the last place."""
    entries = COMPETITION.entries.values()
    assert Counter(entry.division for entry in entries) == {"women": 20, "men": 20}
    assert len({entry.name for entry in entries}) == len({entry.short for entry in entries}) == 40
    assert max(len(entry.name) for entry in entries) == 30
    assert max(len(entry.short) for entry in entries) <= 12
    assert any(not entry.name.isascii() for entry in entries)
    assert worths(COMPETITION.points["twenty"], 20) == tuple(150 - sum(STEPS[:places]) for places in range(20))
    assert worths(COMPETITION.points["last-ten"], 10) == tuple(96 - sum(STEPS[:places]) for places in range(10))


def test_the_points_brought_in_add_up() -> None:
    """Three events on the table of twenty: each division holds what those gave out. One of the women withdrew once."""
    table = sum(worths(COMPETITION.points["twenty"], 20))
    last = worths(COMPETITION.points["twenty"], 20)[-1]
    for division in COMPETITION.divisions:
        held = [entry.points_before for entry in COMPETITION.entries.values() if entry.division == division]
        assert sum(held) == 3 * table - (last if division == "women" else 0)


def test_leaders_race_last_and_in_the_middle() -> None:
    """In each heat of Breakwater lanes 5 and 6 hold the best two, and the second heat outranks all of the first."""
    for division in COMPETITION.divisions:
        first, last = (COMPETITION.heats[f"{division}-{number}"].lanes for number in (1, 2))
        for lanes in (first, last):
            by_points = sorted(lanes, key=lambda lane: -COMPETITION.entries[lanes[lane]].points_before)
            assert by_points == [5, 6, 4, 7, 3, 8, 2, 9, 1, 10]
        weakest = min(COMPETITION.entries[entry].points_before for entry in last.values())
        assert weakest > max(COMPETITION.entries[entry].points_before for entry in first.values())


def test_the_table_fills_a_heat_from_the_start_list() -> None:
    """The first women's heat has no lanes in the competition file; they come from the CSV beside it."""
    text = FILE.read_text(encoding="utf-8")
    heat = text.partition('id = "women-1"')[2].partition("[[heat]]")[0]
    assert "lanes =" not in heat
    assert len(COMPETITION.heats["women-1"].lanes) == 10


def test_ten_of_each_division_go_on_after_breakwater() -> None:
    """The cut leaves ten, so many lanes the last heats have, and the table after it ends at the tenth place."""
    for division in COMPETITION.divisions:
        found = COMPETITION.cut_after("breakwater", division)
        assert found is not None
        assert (found.size, COMPETITION.field_size("ebb-tide", division)) == (10, 10)
        assert len(COMPETITION.heats[f"ebb-{division}"].lanes) == 10


def test_a_round_of_breakwater_is_worth_31() -> None:
    """Rounds end at 31, 62, 93 and 124, the tie-break mark at 93, and each load is given for both divisions."""
    workout = COMPETITION.events["breakwater"].workout
    plan = Plan(workout, laps=1)
    assert [leg.scored_after for leg in plan.legs if leg.number == 4] == [31, 62, 93, 124]
    assert workout.tie_break is not None
    assert plan.scored(plan.done_at(workout.tie_break)) == 93
    assert workout.time_cap_ms == 780_000
    loads = [set(station.loads) for station in workout.rounds[0] if station.loads]
    assert loads == [{"women", "men"}] * 3
