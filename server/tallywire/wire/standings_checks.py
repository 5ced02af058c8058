"""Checks of the rules about places: points tables, the rules of the standing, and cuts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from tallywire.core.errors import Problem
from tallywire.core.ranking.formula import Formula
from tallywire.wire.competition_schema import CompetitionFile, EventTable, VacantTable, vacancies
from tallywire.wire.problems import shown
from tallywire.wire.standings_file import default_tables, points_of
from tallywire.wire.standings_schema import CutTable, PointsTableTable

Racing = Mapping[tuple[str, str], str]
"""Who stands on a lane, by event and entry."""


def standings_problems(table: CompetitionFile, racing: Racing) -> Iterator[Problem]:
    """Give everything that is impossible in the points tables, the standing rules and the cuts."""
    for index, each in enumerate(table.points, start=1):
        yield from _points(f"points[{index}]", each)
        yield from _rises(f"points[{index}].places", each.places or (), table.standings.order)
        if each.step is not None and table.standings.order == "fewest":
            yield Problem(f"points[{index}].step", f"{each.step:g}", "places or a formula: the fewest points win")
    yield from _rules(table)
    yield from _changes(table)
    yield from _cuts(table)
    yield from _known(table, [(f"entry[{n}].left_after", each.left_after) for n, each in enumerate(table.entry, 1)])
    yield from _fields(table, racing)
    for index, event in enumerate(table.event, start=1):
        if event.part and event.vacant:
            yield Problem(f"event[{index}].vacant", "a vacant place", "it in the parts: each has places of its own")
        for path, vacant in vacancies(index, event):
            yield from _vacant(path, vacant, event.id, table)


_WAYS = {"places": ("places",), "first and step": ("first", "step"), "formula": ("formula",)}
"""The ways to say what a place is worth, each with its fields."""


def _points(path: str, each: PointsTableTable) -> Iterator[Problem]:
    """Check that a points table uses just one way to say what a place is worth, and that it is complete."""
    yield from _one_way(path, each)
    if each.formula is not None:
        yield from _formula(f"{path}.formula", each.formula)
    yield from _scale(path, each)


def _one_way(path: str, each: PointsTableTable) -> Iterator[Problem]:
    given = [(name, field) for name, fields in _WAYS.items() for field in fields if getattr(each, field) is not None]
    ways = {name for name, _ in given}
    if len(ways) != 1:
        found = ", ".join(field for _, field in given)
        yield Problem(path, found or "no values", "one of places, first and step, or formula")
    if "first and step" in ways:
        for name in (name for name in _WAYS["first and step"] if getattr(each, name) is None):
            yield Problem(f"{path}.{name}", "nothing", "a value: first and step go together")


def _scale(path: str, each: PointsTableTable) -> Iterator[Problem]:
    if each.places is not None and each.scale_to is not None and len(each.places) < each.scale_to:
        found = f"a table of {len(each.places)} places"
        yield Problem(f"{path}.scale_to", str(each.scale_to), f"at most the places of the list: {found}")


def _rises(path: str, values: Sequence[float], order: str) -> Iterator[Problem]:
    """Check that no better place is worth less than a worse one, and name the first that is."""
    for place, (better, worse) in enumerate(pairwise(values), start=2):
        if (worse > better) if order == "most" else (worse < better):
            bound = "no more" if order == "most" else "no less"
            expected = f"{bound} than {better:g} for place {place - 1}: the {order} points win"
            yield Problem(path, f"{worse:g} for place {place}", expected)
            return


def _formula(path: str, text: str) -> Iterator[Problem]:
    try:
        Formula(text)
    except ValueError as exc:
        found, _, expected = str(exc).partition(", expected ")
        yield Problem(path, found.removeprefix("found "), expected)


def _rules(table: CompetitionFile) -> Iterator[Problem]:
    rules, path = table.standings, "standings"
    twice = [rule for rule, count in Counter(rules.ties).items() if count > 1]
    if twice:
        yield Problem(f"{path}.ties", f"{', '.join(twice)} twice", "each tie rule once")
    if "shared" in rules.ties[:-1]:
        yield Problem(f"{path}.ties", ", ".join(rules.ties), "shared at the end only: nothing is compared after it")
    if "count_back_scoring" in rules.ties and rules.order == "fewest":
        yield Problem(
            f"{path}.ties", "count_back_scoring", "count_back: where the fewest points win every place scores"
        )
    scored = sum(max(1, len(event.part)) for event in table.event)
    if rules.drop_worst >= scored:
        yield Problem(f"{path}.drop_worst", str(rules.drop_worst), f"fewer than the {scored} scores there are")
    if rules.drop_from > scored:
        yield Problem(f"{path}.drop_from", str(rules.drop_from), f"at most {scored}, the number of scores")


def _changes(table: CompetitionFile) -> Iterator[Problem]:
    changes, path = table.standings.tables_from, "standings.tables_from"
    yield from _known(table, [(f"{path}[{index}].event", each.event) for index, each in enumerate(changes, start=1)])
    for index, each in enumerate(changes, start=1):
        first = next(n for n, other in enumerate(changes, start=1) if other.event == each.event)
        if first != index:
            expected = f"one table from an event on: {path}[{first}] has it"
            yield Problem(f"{path}[{index}].event", shown(each.event), expected)
        tables = [other.id for other in table.points]
        if each.points not in tables:
            expected = f"a points table of this file: {', '.join(tables[:8])}"
            yield Problem(f"{path}[{index}].points", shown(each.points), expected)


def _known(table: CompetitionFile, names: list[tuple[str, str | None]]) -> Iterator[Problem]:
    events = [event.id for event in table.event]
    for path, name in names:
        if name is not None and name not in events:
            listed = ", ".join(events[:8]) + (" …" if len(events) > 8 else "")
            yield Problem(path, shown(name), f"an event of this file: {listed}")


def _cuts(table: CompetitionFile) -> Iterator[Problem]:
    yield from _known(table, [(f"cut[{index}].after", each.after) for index, each in enumerate(table.cut, start=1)])
    divisions = [each.id for each in table.division]
    for index, each in enumerate(table.cut, start=1):
        if each.division is None or each.division in divisions:
            yield from _cut(f"cut[{index}]", index, each, table)
        else:
            listed = ", ".join(divisions[:8])
            yield Problem(f"cut[{index}].division", shown(each.division), f"a division of this file: {listed}")


def _cut(path: str, index: int, cut: CutTable, table: CompetitionFile) -> Iterator[Problem]:
    if cut.after == table.event[-1].id:
        yield Problem(f"{path}.after", shown(cut.after), "an event with others after it")
    first = next(n for n, one in enumerate(table.cut, 1) if (one.after, one.division) == (cut.after, cut.division))
    if first != index:
        yield Problem(path, "a second cut after that event", f"one cut: cut[{first}] has it")
    concerned = [each.id for each in table.division if cut.division in (each.id, None)]
    largest = max(_field(table, cut.after, division) for division in concerned)
    if cut.size > largest:
        yield Problem(f"{path}.size", str(cut.size), f"at most {largest}: the field is no larger")


def _field(table: CompetitionFile, until: str, division: str) -> int:
    """How many of a division may be in an event: all of them, or as many as the cuts before it leave."""
    size = sum(entry.division == division for entry in table.entry)
    for event in table.event:
        if event.id == until:
            break
        mine = [each for each in table.cut if each.after == event.id and each.division in (division, None)]
        size = min([size, *(each.size for each in sorted(mine, key=_for_all)[:1])])
    return size


def _for_all(each: CutTable) -> bool:
    return each.division is None


def _fields(table: CompetitionFile, racing: Racing) -> Iterator[Problem]:
    """Check that a points table has a value for every place of the largest field in the event."""
    defaults = default_tables(table.standings.tables_from, [each.id for each in table.event], table.points[0].id)
    tables = {each.id: each for each in table.points}
    for index, event in enumerate(table.event, start=1):
        largest, fields = _sizes(table, event.id, racing)
        vacant = max((len(own) for _, own in vacancies(index, event)), default=0)
        fields |= {size + more for size in fields for more in range(vacant + 1)}
        for path, name in _tables_used(index, event, event.points or defaults[event.id]):
            if name in tables:
                yield from _reaches(path, tables[name], largest, fields, order=table.standings.order)


def _vacant(path: str, vacant: Sequence[VacantTable], event: str, table: CompetitionFile) -> Iterator[Problem]:
    """Check that each vacant place is named once, and is one that the division has in the event."""
    divisions = [each.id for each in table.division]
    for number, each in enumerate(vacant, start=1):
        first = vacant.index(each) + 1
        size = _field(table, event, each.division)
        if first != number:
            yield Problem(f"{path}[{number}]", f"place {each.place} a second time", f"it once: {path}[{first}] has it")
        elif each.division in divisions and each.place > size:
            yield Problem(f"{path}[{number}].place", str(each.place), f"at most {size}: the field is no larger")


def _sizes(table: CompetitionFile, event: str, racing: Racing) -> tuple[int, set[int]]:
    """The most that can be placed in an event, and how large its divisions' fields are.

    Where lanes are seeded later, everyone who may still be in is counted; elsewhere, everyone who has a lane.
    """
    division_of = {entry.id: entry.division for entry in table.entry}
    on_lanes = Counter(division_of[entry] for of, entry in racing if of == event and entry in division_of)
    later = any(heat.event == event and heat.seeded_later for heat in table.heat)
    fields = {each.id: _field(table, event, each.id) for each in table.division if later or each.id in on_lanes}
    largest = max((fields if later else on_lanes).values(), default=0)
    return largest, {*fields.values(), largest}


def _reaches(path: str, each: PointsTableTable, largest: int, fields: set[int], *, order: str) -> Iterator[Problem]:
    if each.places is not None and len(each.places) < largest:
        found = f"a table of {len(each.places)} places"
        yield Problem(path, found, f"at least {largest}: the field is that large")
    elif each.formula is not None:
        yield from _has_values(path, each, sorted(fields), order)


def _has_values(path: str, each: PointsTableTable, fields: list[int], order: str) -> Iterator[Problem]:
    """Name the first place that has no value, a negative value, or a higher value than a better place."""
    try:
        table = points_of(each)
    except ValueError:
        return
    for field in fields:
        values: list[float] = []
        for place in range(1, field + 1):
            where = f'"{each.formula}" for place {place} in a field of {field}'
            try:
                worth = table.points(place, field)
            except ValueError:
                yield Problem(path, f"no value of {where}", "a number for every place")
                return
            if worth < 0:
                yield Problem(path, f"{worth} from {where}", "no negative points: wrap it in max(0, …) or set least")
                return
            values.append(float(worth))
        risen = next(_rises(f"{path}, a field of {field}", values, order), None)
        if risen is not None:
            yield risen
            return


def _tables_used(index: int, event: EventTable, default: str) -> Iterator[tuple[str, str]]:
    if not event.part:
        yield f"event[{index}].points", default
    for number, part in enumerate(event.part, start=1):
        yield f"event[{index}].part[{number}].points", part.points or default
