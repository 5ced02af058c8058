"""Teams on one lane: how the members' facts make the count of the lane."""

from __future__ import annotations

from collections.abc import Sequence

from tallywire.core.facts import BlockCompleted, Exchanged, Fact, RepCounted
from tallywire.core.formats.base import Tally
from tallywire.core.formats.counting import count_work, done_at
from tallywire.core.model.workout import Plan, TeamForm


def count_team(plan: Plan, facts: Sequence[Fact], *, until_ms: int) -> Tally:
    """Fold one lane's work facts, in order; without a team in the workout this is plain counting.

    Relay: work counts for the member whose turn it is; an exchange passes the turn. Shared: the member named in the
    fact did the work (the first member when none is named). Synchro: each member has a count, and the lane has the
    lowest of them.
    """
    team = plan.workout.team
    if team is None:
        return count_work(plan, facts, until_ms=until_ms)
    if team.form is TeamForm.SYNCHRO:
        return _synchro(plan, facts, team.members, until_ms)
    return _in_turn(plan, facts, until_ms)


def _in_turn(plan: Plan, facts: Sequence[Fact], until_ms: int) -> Tally:
    turns = [fact for fact in facts if isinstance(fact, Exchanged) and fact.at_ms <= until_ms]
    tally = count_work(plan, [fact for fact in facts if not isinstance(fact, Exchanged)], until_ms=until_ms)
    tally.member = turns[-1].member if turns else 1
    before = 0
    named = {fact.at_ms: fact.member for fact in facts if isinstance(fact, RepCounted | BlockCompleted)}
    for at_ms, done in tally.trail:
        member = named.get(at_ms) or _turn_at(turns, at_ms)
        tally.members[member] = tally.members.get(member, 0) + done - before
        before = done
    return tally


def _turn_at(turns: list[Exchanged], at_ms: int) -> int:
    return next((turn.member for turn in reversed(turns) if turn.at_ms <= at_ms), 1)


def _synchro(plan: Plan, facts: Sequence[Fact], members: int, until_ms: int) -> Tally:
    """Count each member separately; the lane's count at every moment is the lowest of theirs."""
    own = [count_work(plan, _of_member(facts, number), until_ms=until_ms) for number in range(1, members + 1)]
    together = own[0]
    lowest = Tally(
        no_reps_ms=together.no_reps_ms,
        finish_calls_ms=together.finish_calls_ms,
        remarks=[remark for tally in own for remark in tally.remarks],
        members={number: tally.done for number, tally in enumerate(own, start=1)},
    )
    for at_ms in sorted({at_ms for tally in own for at_ms, _ in tally.trail}):
        done = min(done_at(tally.trail, at_ms) for tally in own)
        if done > lowest.done:
            lowest.trail.append((at_ms, done))
            lowest.done, lowest.reached_ms = done, at_ms
    lowest.counted_ms = min(max(tally.counted_ms for tally in own), lowest.reached_ms)
    return lowest


def _of_member(facts: Sequence[Fact], number: int) -> list[Fact]:
    """The facts of one member. Those that name no member are about all of them: one judge counts for both."""
    return [fact for fact in facts if getattr(fact, "member", None) in (None, number)]
