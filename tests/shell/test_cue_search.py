"""The cues of a recording, as a rehearsal finds them: said in the language of whoever asks."""

from __future__ import annotations

import pytest

from core.samples import HEAT, Pad, competition, full_round
from shell.test_call_view import InlineWorker
from tallywire.shell import cue_search
from tallywire.shell.cue_search import CueSearch


def test_a_cue_is_found_once_and_said_in_every_language(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever names no language gets the competition's; the moments are the same in each."""
    monkeypatch.setattr(cue_search, "_REST_S", 0)
    search = CueSearch(competition(), InlineWorker())
    facts = [Pad("table-a").start(), *full_round(Pad("lane-1-a", 1), 0, step_ms=100), Pad("table-b").end(10_000)]
    search.begin([HEAT], facts)
    own, spanish = search.cues(), search.cues("es")
    assert [each.line for each in own][:1] == ["E1 is first through round one, 22 reps, at 0:02."]
    assert [each.line for each in spanish][:1] == ["E1 completa primero la ronda 1, 22 repeticiones, en 0:02."]
    assert [each.at_ms for each in own] == [each.at_ms for each in spanish]
    assert search.cues("en") == own
