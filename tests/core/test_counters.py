"""Two counters on a lane: a backup changes nothing, and a disagreement is raised when it is large or lasts."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import pytest

from core.samples import HEAT, Pad, competition
from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.counters import Comparison


def test_a_backup_changes_nothing_in_any_order() -> None:
    """With a backup's facts the lane is what it is without them, and the backup's own count is kept beside it."""
    table, pad, backup = Pad("table-a"), Pad("lane-1-a", 1), Pad("backup-1-a", 1)
    main: list[Fact] = [table.start(), pad.reps(1000), pad.reps(2000)]
    wrong = backup.reps(1500, n=4)
    beside: list[Fact] = [wrong, backup.reps(1600), backup.void(1700, wrong)]
    alone = CompetitionBook(competition(), main).at_clocks({HEAT: 3000}).heats[HEAT]
    assert alone.backup is None
    assert alone.of_backup().tally(1).done == 0
    for order in permutations([*main[:2], *beside]):
        book = CompetitionBook(competition(), order[:2])
        for fact in [*order[2:], main[2]]:
            book.add(fact)
        found = book.at_clocks({HEAT: 3000}).heats[HEAT]
        assert (found.tally(1), found.outcome(1)) == (alone.tally(1), alone.outcome(1))
        assert found.of_backup().tally(1).done == 1


def test_the_table_strikes_what_a_backup_counted() -> None:
    """After a false start the backup's touches are struck like all others, in whichever order the facts come."""
    table, backup = Pad("table-a"), Pad("backup-1-a", 1)
    wrong = backup.reps(1000)
    facts: list[Fact] = [table.start(), wrong, replace(table.void(1500, wrong), lane=1), backup.reps(2000)]
    for order in permutations(facts):
        for book in (CompetitionBook(competition(), order), CompetitionBook(competition(), order[:1])):
            for fact in order:
                book.add(fact)
            assert book.at_clocks({HEAT: 3000}).heats[HEAT].of_backup().tally(1).done == 1


@pytest.mark.parametrize(
    ("notes", "at_ms", "raised"),
    [
        ([(5, 5, 0)], 60_000, False),
        ([(8, 5, 0)], 0, True),
        ([(6, 5, 0)], 4_000, False),
        ([(6, 5, 0)], 6_000, True),
        ([(6, 5, 0), (6, 6, 4_000)], 60_000, False),
        # Each rep one is half a second behind the other, as two judges are.
        ([each for n in range(1, 9) for each in [(n, n - 1, 2000 * n), (n, n, 2000 * n + 500)]], 16_400, False),
        # The backup missed one: it is level only until the main counter has the next rep as well.
        ([each for n in range(1, 9) for each in [(n, n, 2000 * n), (n + 1, n, 2000 * n + 500)]], 17_900, True),
    ],
    ids=["level", "far apart", "one rep, just now", "one rep, for long", "level again", "one behind", "one missed"],
)
def test_a_disagreement_is_raised_beyond_a_bound_or_a_time(
    notes: list[tuple[int, int, int]], at_ms: int, raised: bool
) -> None:
    """More than two reps at once; fewer when the counters differ for most of ten seconds."""
    comparison = Comparison()
    for main, backup, when in notes:
        comparison.note(main, backup, when)
    assert comparison.is_raised(at_ms) is raised
