"""What every format must do: a format's test class inherits the contract and says which example it is tried on."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import orjson
import pytest

from tallywire.core.cues import CueRules, Observation, say
from tallywire.core.cues.cue import KINDS
from tallywire.core.cues.format_cues import FormatCues
from tallywire.core.cues.format_words import FormatWords, vocabulary
from tallywire.core.cues.script import cue_script
from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.heat import HeatState
from tallywire.core.forecast.format_forecast import model_of
from tallywire.core.forecast.of_heat import scene_of
from tallywire.core.forecast.predict import forecast
from tallywire.core.formats.format import Format
from tallywire.core.formats.registry import format_of
from tallywire.core.model.competition import Competition
from tallywire.core.reports.scoresheet import sheet_pieces, to_write
from tallywire.core.views.call_work import work_frames
from tallywire.core.views.own_rules import rules_data, work_data
from tallywire.formats.format_file import FormatFile
from tallywire.wire.catalogue import catalogue
from tallywire.wire.competition_file import competition_schema
from tallywire.wire.cue_wording import default_wording

SAY = catalogue("en").say


class FormatContract:
    """For every format. A subclass says its name and overrides `example`: a competition and the facts of one heat."""

    name: str

    def example(self) -> tuple[Competition, Sequence[Fact]]:
        """Give a competition and all facts of one of its heats, which is over with them."""
        raise NotImplementedError

    @cached_property
    def known(self) -> tuple[Competition, Sequence[Fact]]:
        """The example, read once."""
        return self.example()

    def state(self, share: float = 1.0, *, facts: Sequence[Fact] | None = None) -> HeatState:
        """The heat once a share of its time has passed."""
        competition, every = self.known
        heat = competition.heats[every[0].heat]
        clock_ms = round(share * competition.event_of(heat).workout.time_cap_ms)
        own = [fact for fact in (every if facts is None else facts) if fact.at_ms <= clock_ms]
        return CompetitionBook(competition, own).at_clocks({heat.id: clock_ms}).heats[heat.id].state

    @property
    def format(self) -> Format:
        """The format the example is of."""
        return format_of(self.state(0.0).event.workout)

    def test_the_example_is_of_this_format(self) -> None:
        """The name in the file leads to the format of that name."""
        assert self.format.name == self.name

    def test_without_facts_all_lanes_are_level(self) -> None:
        """Before the start nobody has done anything, and all share the first place."""
        lanes = self.state(facts=[], share=0.0).lanes.values()
        assert {(lane.tally.done, lane.place, lane.outcome.score) for lane in lanes} == {(0, 1, 0)}

    def test_a_tally_is_a_fold_that_can_stop_anywhere(self) -> None:
        """A trail rises in time and in work, and what a lane has done is its last entry."""
        for share in (0.2, 0.5, 1.0):
            for lane in self.state(share).lanes.values():
                times, units = [at_ms for at_ms, _ in lane.tally.trail], [done for _, done in lane.tally.trail]
                assert times == sorted(times)
                assert units == sorted(set(units))
                assert lane.tally.done == (units[-1] if units else 0)

    def test_moments_lie_on_the_heat_clock(self) -> None:
        """A format's moments are whole milliseconds, none before the start."""
        workout = self.state().event.workout
        assert all(isinstance(at_ms, int) and at_ms >= 0 for at_ms in self.format.counting.moments(workout))

    def test_views_are_data_without_nulls(self) -> None:
        """Rules, a lane's work and the call's part of it can be written as JSON, and null never stands in them."""
        for share in (0.0, 0.5, 1.0):
            state = self.state(share)
            works = [work_data(lane.tally, state.event.workout) for lane in state.lanes.values()]
            frames = [rules_data(state.event.workout), *works, work_frames(state)]
            assert b"null" not in orjson.dumps(frames, option=orjson.OPT_NON_STR_KEYS)

    def test_every_cue_has_words(self) -> None:
        """Every kind that comes up is one of all formats or of this one, and every cue can be said."""
        competition, facts = self.known
        wording = default_wording()
        script = cue_script(competition, facts[0].heat, facts)
        assert script
        assert {cue.kind for _, cue in script} <= {*KINDS, *self.format.facet(FormatCues).kinds}
        assert all("{" not in say(cue, wording) for _, cue in script)

    def test_own_lines_are_in_the_wording(self) -> None:
        """What the format adds to the vocabulary stands there, with its text."""
        own = self.format.facet(FormatWords)
        assert own.lines.keys() <= vocabulary().lines.keys()
        assert own.lines.keys() <= default_wording().lines.keys()

    def test_cues_change_nothing_they_look_at(self) -> None:
        """The same state gives the same milestones."""
        observation = Observation(state=self.state(0.7))
        own = self.format.facet(FormatCues)
        for lanes in observation.ranked().values():
            once, again = (list(own.milestones(observation, CueRules(), lanes)) for _ in range(2))
            assert once == again

    def test_what_is_over_is_certain(self) -> None:
        """At the end each lane has the place it has, for certain."""
        state = self.state()
        assert state.over
        found = forecast(scene_of(state), seed=1, draws=50).lanes
        assert model_of(state.event.workout).has_model
        for lane in state.lanes.values():
            if lane.status.has_result:
                assert found[lane.lane].heat_places[lane.place - 1] == 1.0

    def test_a_forecast_can_be_asked_at_any_time(self) -> None:
        """In the middle of the heat the chances of the places add up to one."""
        for share in (0.0, 0.4, 0.8):
            found = forecast(scene_of(self.state(share)), seed=1, draws=50).lanes
            for lane in found.values():
                assert sum(lane.heat_places) == pytest.approx(1.0)

    def test_there_is_a_scoresheet(self) -> None:
        """Every division has lines or a grid to fill in, and the result is written down."""
        competition, facts = self.known
        event = competition.event_of(competition.heats[facts[0].heat])
        for division in competition.divisions:
            pieces = sheet_pieces(event, division, SAY)
            assert pieces
            assert all(piece.lines or piece.grid for piece in pieces)
        assert to_write(event, SAY)

    def test_the_file_knows_it(self) -> None:
        """The schema names the format, and its own field where it has one."""
        workout = competition_schema()["$defs"]["WorkoutTable"]["properties"]
        field = self.format.facet(FormatFile).field
        assert self.name in workout["format"]["enum"]
        assert field is None or field in workout
