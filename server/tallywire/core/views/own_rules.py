"""What is special to a workout: the rules of its format and of its team, and what a lane has done under them."""

from __future__ import annotations

from tallywire.core.formats.base import Tally
from tallywire.core.formats.registry import format_of
from tallywire.core.model.workout import Team, Workout
from tallywire.core.views.format_views import FormatViews, Frame


def rules_data(workout: Workout) -> Frame:
    """Give the rules of the workout's format and its `team`, as far as it has any."""
    own = format_of(workout).facet(FormatViews).rules(workout)
    return own if workout.team is None else own | {"team": _team(workout.team)}


def work_data(tally: Tally, workout: Workout) -> Frame:
    """Give what the format adds of a lane's work, the units done by each member, and the `member` whose turn it is."""
    own = format_of(workout).facet(FormatViews).work(tally, workout)
    if workout.team is None:
        return own
    members = [tally.members.get(number, 0) for number in range(1, workout.team.members + 1)]
    return own | {"member": tally.member, "members": members}


def _team(rules: Team) -> Frame:
    return {"form": rules.form.value, "size": rules.members}
