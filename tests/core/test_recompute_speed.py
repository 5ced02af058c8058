"""A whole competition is recomputed from its journal in a few times what reading it takes, and a correction at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from core.bench_recompute import ENTRIES, EVENTS, bare_s, performances, recompute, trials, write_journal

pytestmark = [pytest.mark.slow, pytest.mark.alone]


@pytest.mark.parametrize(
    ("every_rep", "least", "times"), [(False, 8, 20), (True, 100, 9)], ids=["sheets", "every rep a tap"]
)
def test_a_competition_recomputes_from_its_journal(tmp_path: Path, every_rep: bool, least: int, times: int) -> None:
    """Three divisions of forty in seven events with appeals: from the file to all standings.

    What it takes is held against a bare reading of the same file, in turn, because machines differ by more than two:
    sheets take 7 to 10 times as long, every rep a tap 3 to 6 times.
    """
    competition = trials()
    facts = list(performances(competition, every_rep=every_rep))
    assert len(facts) >= least * 3 * ENTRIES * EVENTS
    path = tmp_path / "journal.sqlite"
    write_journal(path, facts)
    turns = [(bare_s(path), recompute(path, competition)) for _ in range(3)]
    bare, best = min(bare for bare, _ in turns), min((each for _, each in turns), key=lambda each: each.total_s)
    print(
        f"{best.total_s:.2f} s, {best.total_s / bare:.1f} times a bare reading; a correction {best.correction_s:.2f} s"
    )
    assert best.total_s < times * bare
    assert best.correction_s < times * bare
    assert [len(series.scores) for series in best.standings] == [EVENTS] * 3
    assert all(len(series.rows) == ENTRIES for series in best.standings)
    assert sum(len(row.deductions) for series in best.standings for row in series.rows) == 3 * EVENTS
