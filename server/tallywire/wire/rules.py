"""Which role may send which facts, and the rules a readable fact has to pass before this competition takes it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import ValidationError

from tallywire.core.errors import FactRefused, NotAllowed, Problem
from tallywire.core.facts import Fact, RundownEdited, ShowFact, ViewTaken, wire_name
from tallywire.core.facts.ledger import lane_of
from tallywire.core.model.competition import Competition, FloorLane
from tallywire.core.show.catalogue import Known, problems
from tallywire.wire.competition_schema import ItemTable
from tallywire.wire.problems import problems_of
from tallywire.wire.roles import Role


@dataclass(frozen=True, slots=True, kw_only=True)
class Sender:
    """Who sends facts on a connection: by the role of its link, for one lane and one floor where that names them."""

    name: str
    role: Role
    lane: int | None = None
    floor: str = ""

    @property
    def place(self) -> FloorLane | None:
        """Its lane, on its floor; None when it sends for every lane."""
        return None if self.lane is None else FloorLane(floor=self.floor, lane=self.lane)


def check(fact: Fact, sender: Sender, competition: Competition) -> None:
    """Raise NotAllowed or FactRefused, with what was found and expected, for a fact that cannot be taken."""
    if fact.sender != sender.name:
        raise NotAllowed(f'found sender "{fact.sender}", expected "{sender.name}", who said hello')
    _check_role(fact, sender)
    _check_place(fact, sender, competition)
    if isinstance(fact, ShowFact):
        _check_show(fact, competition)


def _check_role(fact: Fact, sender: Sender) -> None:
    role, lane = sender.role, lane_of(fact)
    if not isinstance(fact, role.facts):
        kinds = ", ".join(map(wire_name, role.facts))
        raise NotAllowed(f"found {wire_name(type(fact))}, expected what a {role.words} may send: {kinds}")
    if sender.lane is not None and lane != sender.lane:
        raise NotAllowed(f"found lane {lane or 'none'}, expected lane {sender.lane}, whose link was used")


def _check_place(fact: Fact, sender: Sender, competition: Competition) -> None:
    heat = competition.heats.get(fact.heat)
    if heat is None:
        raise FactRefused(f'found heat "{fact.heat}", expected one of {", ".join(competition.heats)}')
    if sender.floor and heat.floor != sender.floor:
        raise NotAllowed(
            f"found heat {heat.id} on floor {heat.floor}, expected one on {sender.floor}, whose link was used"
        )
    lane = lane_of(fact)
    if lane is not None and lane not in heat.lanes:
        lanes = ", ".join(map(str, heat.lanes))
        raise FactRefused(f"found lane {lane}, expected a lane of {heat.id}: {lanes}")


def _check_show(fact: ShowFact, competition: Competition) -> None:
    if fact.output not in competition.outputs:
        raise FactRefused(f'found output "{fact.output}", expected one of {", ".join(competition.outputs)}')
    if isinstance(fact, ViewTaken):
        _check_possible(problems("fact", fact.view, fact.params, _known(competition)))
    if isinstance(fact, RundownEdited):
        _check_lines(fact, competition)


def _check_lines(fact: RundownEdited, competition: Competition) -> None:
    """A line that is put in is one that the competition file could have."""
    known = _known(competition)
    for number, line in enumerate(fact.added, start=1):
        path = f"fact.added[{number}]"
        try:
            item = ItemTable.model_validate(dict(line))
        except ValidationError as exc:
            raise FactRefused(str(problems_of(exc, prefix=path)[0])) from exc
        _check_possible(problems(path, item.view, item.params(), known))


def _known(competition: Competition) -> Known:
    heats = {heat.id: heat.lanes for heat in competition.heats.values()}
    parts = frozenset(part.id for event in competition.events.values() for part in event.parts)
    return Known(heats=heats, divisions=frozenset(competition.divisions), parts=parts)


def _check_possible(found: Iterator[Problem]) -> None:
    wrong = next(found, None)
    if wrong is not None:
        raise FactRefused(str(wrong))
