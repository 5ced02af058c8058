"""Points tables, standing rules and cuts of the competition file in the core's terms."""

from __future__ import annotations

from fractions import Fraction

from tallywire.core.model.competition import CutAfter
from tallywire.core.ranking.cuts import Cut, CutTies
from tallywire.core.ranking.formula import Formula
from tallywire.core.ranking.points import FlooredTable, FormulaTable, PointsTable, ScaledTable, StepTable, Table
from tallywire.core.ranking.series import from_event_on
from tallywire.core.ranking.standing import StandingRules
from tallywire.core.ranking.tie_rules import Order, TieRule
from tallywire.wire.standings_schema import CutTable, PointsTableTable, StandingsTable, TableFromTable


def points_of(table: PointsTableTable) -> Table:
    """Turn a checked points table into the core's terms. Raises ValueError for a formula that is none."""
    found = _plain(table)
    if table.scale_to is not None:
        found = ScaledTable(table=found, full_field=table.scale_to)
    return found if table.least is None else FlooredTable(table=found, least=exact(table.least))


def exact(points: float) -> Fraction:
    """Give a number as it was written: 90.1 is ninety and a tenth, not the nearest binary fraction."""
    return Fraction(repr(points))


def rules_of(table: StandingsTable) -> StandingRules:
    """Turn [standings] into the core's terms."""
    return StandingRules(
        order=Order(table.order),
        drop_worst=table.drop_worst,
        drop_from=table.drop_from,
        ties=tuple(TieRule(each) for each in table.ties),
    )


def cuts_of(tables: list[CutTable]) -> tuple[CutAfter, ...]:
    """Turn the cuts into the core's terms."""
    return tuple(
        CutAfter(event=each.after, division=each.division, cut=Cut(size=each.size, ties=CutTies(each.ties)))
        for each in tables
    )


def default_tables(changes: list[TableFromTable], events: list[str], first: str) -> dict[str, str]:
    """Give the points table of every event that names none; changes at unknown events are passed over."""
    known = {each.event: each.points for each in changes if each.event in events}
    return from_event_on(known, events, first)


def _plain(table: PointsTableTable) -> Table:
    if table.places is not None:
        return PointsTable(tuple(exact(each) for each in table.places))
    if table.formula is not None:
        return FormulaTable(Formula(table.formula))
    if table.first is None or table.step is None:
        raise ValueError(f"found points table {table.id} without values, expected places, first and step, or a formula")
    return StepTable(first=exact(table.first), step=exact(table.step))
