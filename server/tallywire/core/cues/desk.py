"""The cue desk: which cues there are now, when each was given, and what may be said next. It is a pure reducer."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from tallywire.core.cues.chase import Chases, is_over, watch_chases
from tallywire.core.cues.cue import Cue, CueRules
from tallywire.core.cues.format_cues import cues_of
from tallywire.core.cues.leads import Leads, lead_cues, watch_leads
from tallywire.core.cues.milestones import milestones
from tallywire.core.cues.observation import Observation
from tallywire.core.cues.trouble import no_rep_cues
from tallywire.core.formats.base import Status

AFTER_MS = 60_000
"""How long after the last fact, or live after the end of a heat, the desk goes on giving cues that waited for room."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CueDesk:
    """The desk after an observation.

    `fresh` are the cues that came up just now, `current` all that are still worth saying, heaviest first. `spoken`
    holds when each key last came up, `times_ms` when cues came up in the last minute. `expected_ms` are the finish
    times of the newest forecast, by lane, and `forecast_ms` the heat clock of it; None before the first.
    """

    rules: CueRules = field(default_factory=CueRules)
    fresh: tuple[Cue, ...] = ()
    current: tuple[Cue, ...] = ()
    spoken: Mapping[str, int] = field(default_factory=dict)
    times_ms: tuple[int, ...] = ()
    leads: Leads = field(default_factory=Leads)
    chases: Chases = field(default_factory=Chases)
    expected_ms: Mapping[int, int] = field(default_factory=dict)
    forecast_ms: int | None = None

    def wants_forecast(self, clock_ms: int) -> bool:
        """Whether the newest forecast is too old for cues to rest on."""
        return self.forecast_ms is None or not 0 <= clock_ms - self.forecast_ms < self.rules.forecast_every_ms


def cues(previous: CueDesk, observation: Observation) -> CueDesk:
    """Take an observation and give the desk after it. Lanes on a medical hold are never spoken of."""
    desk, found = _watched(previous, observation)
    held = {number for number, lane in observation.state.lanes.items() if lane.conduct.held}
    found = [cue for cue in found if not held & set(cue.lanes)]
    least = desk.rules.urgent if _is_run_in(observation, desk.rules) else 0
    true = [cue for cue in desk.current if not is_over(cue, observation.state)]
    desk = replace(desk, fresh=(), current=_still_true(true, found, held, observation.clock_ms))
    for cue in sorted(found, key=lambda each: (-each.weight, each.at_ms, each.key)):
        if cue.weight >= least and _is_news(desk, cue, observation.clock_ms) and _fits(desk, cue, observation.clock_ms):
            desk = _spoken(desk, cue, observation.clock_ms)
    return replace(desk, current=_heaviest_first(desk.current))


def _watched(previous: CueDesk, observation: Observation) -> tuple[CueDesk, list[Cue]]:
    """Hand the observation to every watch, and collect what there is to say."""
    if observation.state.started is None:
        return previous, []
    rules = previous.rules
    leads = watch_leads(previous.leads, observation, rules)
    counted = observation.is_counted
    chases, chase_cues = watch_chases(previous.chases, observation, rules) if counted else (Chases(), [])
    found = milestones(observation, rules) + lead_cues(leads, observation)
    found += chase_cues + no_rep_cues(observation, rules)
    return replace(previous, leads=leads, chases=chases), found


def _is_run_in(observation: Observation, rules: CueRules) -> bool:
    """Whether a leader is about to finish or has just finished: nobody wants to hear of anything else then."""
    own = cues_of(observation)
    if not own.has_run_in:
        return False
    for lanes in observation.ranked().values():
        leader, to_go = lanes[0], lanes[0].outcome.reps_to_go
        if leader.status is Status.WORKING and to_go is not None and to_go <= rules.run_in_reps:
            return True
        home_ms = own.home_at_ms(observation, leader)
        if home_ms is not None and observation.clock_ms - home_ms < rules.spacing_ms:
            return True
    return False


def _still_true(current: Iterable[Cue], found: list[Cue], held: set[int], now_ms: int) -> tuple[Cue, ...]:
    """Keep cues that are not too old, not about a lane on hold and still true; a lasting one gets new numbers."""
    lasting = {cue.key: cue for cue in found if cue.lasting}
    kept = [
        replace(lasting[cue.key], at_ms=cue.at_ms) if cue.lasting else cue
        for cue in current
        if not cue.lasting or cue.key in lasting
    ]
    return tuple(cue for cue in kept if cue.at_ms <= now_ms < cue.until_ms and not held & set(cue.lanes))


def _is_news(desk: CueDesk, cue: Cue, now_ms: int) -> bool:
    """Whether a cue is still worth saying, and was not said yet, or began again some time after it was said."""
    said_ms = desk.spoken.get(cue.key)
    anew = said_ms is None or (cue.since_ms > said_ms and now_ms - said_ms >= desk.rules.rest_ms)
    return anew and cue.at_ms <= now_ms < cue.until_ms


def _fits(desk: CueDesk, cue: Cue, now_ms: int) -> bool:
    """Whether this minute has room for the cue."""
    rules, urgent = desk.rules, cue.weight >= desk.rules.urgent
    recent = [at_ms for at_ms in desk.times_ms if at_ms > now_ms - 60_000]
    spacing_ms = rules.urgent_spacing_ms if urgent else rules.spacing_ms
    room = rules.a_minute - (0 if urgent else rules.reserved)
    return len(recent) < room and (not recent or now_ms - recent[-1] >= spacing_ms)


def _spoken(desk: CueDesk, cue: Cue, now_ms: int) -> CueDesk:
    recent = tuple(at_ms for at_ms in desk.times_ms if at_ms > now_ms - 60_000)
    return replace(
        desk,
        fresh=(*desk.fresh, cue),
        current=(*desk.current, cue),
        spoken={**desk.spoken, cue.key: now_ms},
        times_ms=(*recent, now_ms),
    )


def _heaviest_first(current: tuple[Cue, ...]) -> tuple[Cue, ...]:
    return tuple(sorted(current, key=lambda cue: (-cue.weight, -cue.at_ms, cue.key)))
