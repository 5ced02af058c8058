"""Pieces with rest between, made up: each is worked with what the ones before have left."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from tallywire.core.made_up.format_work import Bout, Draft, FormatWork, of_team, tap
from tallywire.core.made_up.pace_model import perform
from tallywire.formats.intervals.rules import rules_of


class IntervalWork(FormatWork):
    """What is done in the pieces."""

    def drafts(self, bout: Bout) -> Iterator[Draft]:
        """Give one lane's taps in every piece."""
        rules = rules_of(bout.workout)
        for piece in range(rules.pieces):
            tired = 1 + bout.athlete.fade * piece / max(1, rules.pieces - 1)
            athlete = replace(bout.athlete, skill=bout.athlete.skill / tired)
            begin_ms = rules.start_ms(piece)
            for moment in perform(bout.workout, bout.efforts, athlete, bout.dice):
                at = replace(moment, at_ms=begin_ms + moment.at_ms)
                if at.at_ms > rules.end_ms(piece):
                    break
                yield from of_team(bout, tap(bout.workout, at), at)


FACET = IntervalWork()
