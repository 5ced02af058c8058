"""The whole competition: results of every heat and the standing after every score, with cuts between."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from oracle.counted import Fact, is_over, standing_facts
from oracle.outcomes import part_outcome
from oracle.standing import cut_after, standing_rows
from oracle.tables import given_from, shared_value

Competition = dict[str, Any]


def scores_of(competition: Competition) -> list[tuple[dict[str, Any], dict[str, Any], str]]:
    """Give event, part and the name of each score, in order."""
    found = []
    for event in competition["event"]:
        if "part" in event:
            found += [(event, part, f"{event['id']}/{part['id']}") for part in event["part"]]
        else:
            found.append((event, {"id": event["id"]}, event["id"]))
    return found


def table_of(competition: Competition, event: dict[str, Any], part: dict[str, Any]) -> dict[str, Any]:
    """Give the points table of a score: of the part, of the event, by `tables_from`, or the first of the file."""
    name = competition["points"][0]["id"]
    changes = {each["event"]: each["points"] for each in competition.get("standings", {}).get("tables_from", [])}
    for each in competition["event"]:
        name = changes.get(each["id"], name)
        if each["id"] == event["id"]:
            break
    name = part.get("points", event.get("points", name))
    return next(table for table in competition["points"] if table["id"] == name)


def facts_of(facts: list[Fact], heat: str) -> list[Fact]:
    """Give the facts of one heat."""
    return [fact for fact in facts if fact["heat"] == heat]


def has_started(facts: list[Fact], heat: str) -> bool:
    """Tell whether a heat has been on the floor."""
    return any(fact["fact"] == "heat_started" for fact in facts_of(facts, heat))


def division_of(competition: Competition, entry: str) -> str:
    """Give the division of an entry."""
    return next(str(each["division"]) for each in competition["entry"] if each["id"] == entry)


def heats_of(competition: Competition, event: str, division: str) -> list[dict[str, Any]]:
    """Give the heats of an event in which a division has a lane."""
    return [
        heat
        for heat in competition["heat"]
        if heat["event"] == event and any(division_of(competition, who) == division for who in heat["lanes"].values())
    ]


def place_all(rows: list[dict[str, Any]], name: str) -> None:
    """Give places by key under a name: one better than it more than there are better, those without a result last."""
    for row in rows:
        others = [each for each in rows if each is not row]
        better = sum(each["key"] is not None and (row["key"] is None or each["key"] < row["key"]) for each in others)
        row[name] = better + 1
        row[name + "_shared"] = any(each["key"] == row["key"] for each in others)


def floor_rows(
    competition: Competition, facts: list[Fact], event: dict[str, Any], part: dict[str, Any], division: str
) -> list[dict[str, Any]]:
    """Give a row for everyone of a division who has been on the floor in an event."""
    rows = []
    for heat in heats_of(competition, event["id"], division):
        if not has_started(facts, heat["id"]):
            continue
        for lane, who in heat["lanes"].items():
            if division_of(competition, who) == division:
                found = part_outcome(competition, event, part, facts_of(facts, heat["id"]), int(lane))
                rows.append(found | {"entry": who, "heat": heat["id"], "lane": int(lane)})
                rows[-1]["ladder"] = event["workout"]["format"] == "ladder"
                rows[-1]["over"] = is_over(event["workout"], facts_of(facts, heat["id"]))
    return rows


def leave_vacant(rows: list[dict[str, Any]], vacant: list[int]) -> None:
    """Move down those who are behind a place that nobody is given."""
    given = given_from(1, len(rows) + 1, vacant)
    for row in rows:
        row["place"] = given[row["place"] - 1]


def pay(  # noqa: PLR0913, PLR0917
    rows: list[dict[str, Any]], event: dict[str, Any], table: dict[str, Any], field: int, order: str, vacant: list[int]
) -> None:
    """Give points for places, nothing to those without a result or with less than the least of work."""
    ranked = sum(row["key"] is not None for row in rows)
    field = max([field, *given_from(1, ranked, vacant)[-1:]]) if vacant else field
    nothing = Fraction(0) if order == "most" else Fraction(field + 1)
    earning = [r for r in rows if r["key"] is not None and r["scored"] >= event["workout"].get("minimum_reps", 0)]
    for row in rows:
        sharers = sum(each["place"] == row["place"] for each in earning)
        if row not in earning:
            row["points"] = nothing
        else:
            row["points"] = shared_value(table, row["place"], sharers, field, event.get("ties", "share_better"), vacant)


def score(competition: Competition, facts: list[Fact], state: dict[str, Any], event: dict[str, Any], name: str) -> None:
    """Work out one score of a division: its rows, with places and points of those who are in the field."""
    part = next(part for each, part, known in scores_of(competition) if each is event and known == name)
    rows = floor_rows(competition, facts, event, part, state["division"])
    for row in rows:
        together = [each for each in rows if each["heat"] == row["heat"]]
        row["guests"] = any(each["entry"] not in state["in"] for each in together)
        row |= {"event": event["id"], "part": part["id"], "division": state["division"]}
    for heat in {row["heat"] for row in rows}:
        place_all([row for row in rows if row["heat"] == heat], "heat_place")
    inside = [row for row in rows if row["entry"] in state["in"]]
    place_all(inside, "place")
    said_vacant = (part if "part" in event else event).get("vacant", [])
    vacant = [each["place"] for each in said_vacant if each["division"] == state["division"]]
    leave_vacant(inside, vacant)
    order = competition.get("standings", {}).get("order", "most")
    pay(inside, event, table_of(competition, event, part), len(entered(competition, state, event)), order, vacant)
    state["events"] += [name] if rows else []
    if inside:
        said = part.get("count_back", event.get("count_back", True))
        state["scores"][name] = {"event": event["id"], "rows": inside, "field": list(state["in"]), "breaks_ties": said}


def entered(competition: Competition, state: dict[str, Any], event: dict[str, Any]) -> list[str]:
    """Give those an event is for: all who are in; while a cut before it is to be made, those of them on its lanes."""
    events = [each["id"] for each in competition["event"]]
    earlier = events[: events.index(event["id"])]
    division = state["division"]
    cuts = [each for each in competition.get("cut", []) if each.get("division", division) == division]
    if sum(each["after"] in earlier for each in cuts) == len(state["cuts"]):
        return list(state["in"])
    lanes = [who for heat in competition["heat"] if heat["event"] == event["id"] for who in heat["lanes"].values()]
    return [who for who in state["in"] if who in lanes] if lanes else list(state["in"])


def worked_out(competition: Competition, lines: list[Fact]) -> dict[str, Any]:
    """Work out everything: `results` are rows as in `tallywire results`, `standings` as in `tallywire standings`."""
    facts = standing_facts(lines)
    results: list[dict[str, Any]] = []
    standings: dict[str, Any] = {}
    for division in [each["id"] for each in competition["division"]]:
        everyone = [each["id"] for each in competition["entry"] if each["division"] == division]
        state: dict[str, Any] = {"division": division, "all": everyone, "in": list(everyone)}
        state |= {"cuts": {}, "scores": {}, "events": []}
        for event in competition["event"]:
            for name in [name for each, _, name in scores_of(competition) if each is event]:
                score(competition, facts, state, event, name)
            if is_complete(competition, facts, event, division):
                cut_after(competition, facts, division, event, state)
        results += [row for each in state["scores"].values() for row in each["rows"]]
        standings[division] = standing_rows(competition, facts, state, None) | {"cuts": state["cuts"]}
        standings[division] |= {"still_in": state["in"], "events": state["events"]}
    return {"results": results, "standings": standings}


def is_complete(competition: Competition, facts: list[Fact], event: dict[str, Any], division: str) -> bool:
    """Tell whether all heats of a division in an event are over."""
    heats = heats_of(competition, event["id"], division)
    return bool(heats) and all(
        has_started(facts, heat["id"]) and is_over(event["workout"], facts_of(facts, heat["id"])) for heat in heats
    )
