"""Who leads, in the heat and overall. A lead counts once it is held; two who alternate are said to trade it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from tallywire.core.cues.cue import Cue, CueRules, Kind
from tallywire.core.cues.format_cues import cues_of
from tallywire.core.cues.observation import Observation, OverallNote
from tallywire.core.fold.heat import LaneState
from tallywire.core.formats.base import Status


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """One lead under watch. `holder` is the last one to count as the leader; `rival` has been ahead alone since
    `since_ms`.

    `before` held it until `taken_ms`. `traded_ms` is when a trade was last told, and `told` is what to say of it.
    """

    holder: str | None = None
    rival: str | None = None
    since_ms: int = 0
    before: str | None = None
    taken_ms: int = 0
    traded_ms: int | None = None
    told: str | None = None


def watch(lead: Lead, leader: str | None, now_ms: int, rules: CueRules) -> Lead:
    """Note which entry is ahead alone now (None: nobody), and give the lead that counts.

    `told` becomes "taken" or "traded" when the lead has just come to count, and None when there is nothing to say.
    """
    if leader is None or leader == lead.holder:
        return replace(lead, rival=None)
    if leader != lead.rival:
        return replace(lead, rival=leader, since_ms=now_ms)
    if now_ms - lead.since_ms < rules.holds_ms:
        return lead
    taken = replace(
        lead, holder=leader, rival=None, before=lead.holder, taken_ms=now_ms, told=_told(lead, now_ms, rules)
    )
    return replace(taken, traded_ms=now_ms) if taken.told == "traded" else taken


def _told(lead: Lead, now_ms: int, rules: CueRules) -> str | None:
    """What to say now that `lead.rival` has the lead: nothing of the first lead, nor of a trade told just now."""
    if lead.holder is None:
        return None
    if lead.rival != lead.before or now_ms - lead.taken_ms > rules.alternates_ms:
        return "taken"
    lately = lead.traded_ms is not None and now_ms - lead.traded_ms < rules.rest_ms
    return None if lately else "traded"


@dataclass(frozen=True, slots=True, kw_only=True)
class Leads:
    """The leads of every division, in the heat and overall."""

    heat: Mapping[str, Lead] = field(default_factory=dict)
    overall: Mapping[str, Lead] = field(default_factory=dict)


def watch_leads(leads: Leads, observation: Observation, rules: CueRules) -> Leads:
    """Note the leads of this moment; those in the heat only in formats that have a leader at every moment."""
    now_ms, live = observation.clock_ms, cues_of(observation).leads_are_live(observation.state.event.workout)
    heat = {
        division: watch(leads.heat.get(division, Lead()), _ahead_alone(lanes), now_ms, rules)
        for division, lanes in observation.ranked().items()
        if live
    }
    overall = {
        note.division: watch(leads.overall.get(note.division, Lead()), note.leader, now_ms, rules)
        for note in observation.overall
    }
    return Leads(heat=heat, overall={**leads.overall, **overall})


def lead_cues(leads: Leads, observation: Observation) -> list[Cue]:
    """Give what is to be said of the leads, with the newest numbers."""
    found: list[Cue] = []
    for division, lanes in observation.ranked().items():
        found += _heat_lead(leads.heat.get(division, Lead()), observation, lanes)
    for note in observation.overall:
        found += _overall_lead(leads.overall[note.division], observation, note)
        found += _clinched(observation, note)
    return found


def _ahead_alone(lanes: list[LaneState]) -> str | None:
    first = lanes[0]
    return first.entry.id if first.tally.done and not first.place_shared and first.status.has_result else None


def _heat_lead(lead: Lead, observation: Observation, lanes: list[LaneState]) -> Iterator[Cue]:
    """There is nothing to say once the leader has finished: the cue of the finish says it."""
    first = lanes[0]
    before = next((lane for lane in lanes if lane.entry.id == lead.before), None)
    told = lead.told is not None and first.entry.id == lead.holder and first.status is Status.WORKING
    if told and before is not None:
        template, where = cues_of(observation).lead_words(observation, first)
        yield observation.cue(
            Kind.LEAD,
            f"{template}_{lead.told}",
            f"{first.entry.division}/{lead.taken_ms}",
            (first, before),
            at_ms=lead.taken_ms,
            behind=0,
            name=first.entry.short,
            before=before.entry.short,
            reps=max(0, first.outcome.score - before.outcome.score),
            **where,
        )


def _overall_lead(lead: Lead, observation: Observation, note: OverallNote) -> Iterator[Cue]:
    if lead.told is None or lead.before is None or lead.holder != note.leader or note.leader is None:
        return
    level = lead.told == "taken" and not note.points
    by: dict[str, Any] = {} if level else {"points": note.points}
    yield observation.cue(
        Kind.OVERALL_LEAD,
        "overall_taken_level" if level else f"overall_{lead.told}",
        f"{note.division}/{lead.taken_ms}",
        _on_the_floor(observation, note.leader, lead.before, note.second),
        at_ms=lead.taken_ms,
        name=observation.name(note.leader),
        before=observation.name(lead.before),
        second=observation.name(note.second or lead.before),
        **by,
    )


def _clinched(observation: Observation, note: OverallNote) -> Iterator[Cue]:
    """A lead that is shared at the moment is told as shared: both entries may be certain of it."""
    if note.clinched is not None:
        level = note.second if note.leader is None else None
        cue = observation.cue(
            Kind.CLINCHED,
            "clinched" if level is None else "clinched_level",
            f"{note.division}/{note.clinched}",
            _on_the_floor(observation, note.clinched, level),
            behind=0,
            name=observation.name(note.clinched),
            **({"points": note.points} if level is None else {"other": observation.name(level)}),
        )
        yield replace(cue, lasting=True)


def _on_the_floor(observation: Observation, *entries: str | None) -> tuple[LaneState, ...]:
    lanes = (observation.lane_of(entry) for entry in dict.fromkeys(entries))
    return tuple(observation.state.lanes[number] for found in lanes for number in found)
