"""The standing of a division: totals, dropped scores, tie rules and cuts."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from typing import Any

from oracle.counted import Fact

Competition = dict[str, Any]
MOST_VACANT = 100
"""How many places of a score the file may leave vacant."""
USUAL_TIES = ["count_back", "last_event"]


def score_lines(competition: Competition, state: dict[str, Any], entry: str) -> dict[str, dict[str, Any]]:
    """Give the entry's scores by name: of every score it is in the field of, whether or not it has raced yet."""
    fewest = competition.get("standings", {}).get("order", "most") == "fewest"
    found: dict[str, dict[str, Any]] = {}
    for name, score in state["scores"].items():
        if entry not in score["field"]:
            continue
        row = next((each for each in score["rows"] if each["entry"] == entry), None)
        if row is None:
            nothing = Fraction(len(score["field"]) + 1 if fewest else 0)
            found[name] = {"place": None, "points": nothing, "has_result": False, "status": None}
        else:
            found[name] = {
                "place": row["place"],
                "points": row["points"],
                "has_result": row["key"] is not None,
                "status": row["status"],
            }
        found[name] |= {"event": score["event"], "breaks_ties": score["breaks_ties"]}
    return found


def mark_dropped(competition: Competition, scores: dict[str, dict[str, Any]], begun: int) -> None:
    """Mark the worst scores that do not count."""
    rules = competition.get("standings", {})
    fewest = rules.get("order", "most") == "fewest"
    for score in scores.values():
        score["dropped"] = False
    if begun < rules.get("drop_from", 0):
        return
    sign = -1 if fewest else 1
    may_go = [
        (score["place"] is not None, sign * score["points"], score["has_result"], -(score["place"] or 0), number, name)
        for number, (name, score) in enumerate(scores.items())
        if rules.get("drop_disqualified", True) or score["status"] != "disqualified"
    ]
    for *_, name in sorted(may_go)[: max(0, min(rules.get("drop_worst", 0), len(scores) - 1))]:
        scores[name]["dropped"] = True


def deductions_of(competition: Competition, facts: list[Fact], entry: str, until: str | None) -> list[Fact]:
    """Give the deductions of an entry, up to an event or all."""
    events = [event["id"] for event in competition["event"]]
    last = len(events) if until is None else events.index(until)
    found = []
    for fact in facts:
        if fact["fact"] != "points_deducted":
            continue
        heat = next(each for each in competition["heat"] if each["id"] == fact["heat"])
        if heat["lanes"].get(str(fact["lane"])) == entry and events.index(heat["event"]) <= last:
            found.append(fact)
    return found


def total_of(competition: Competition, row: dict[str, Any]) -> Fraction:
    """Give what an entry brings, plus what counts, less its deductions; where the fewest win they go on top."""
    sign = -1 if competition.get("standings", {}).get("order", "most") == "most" else 1
    counted = sum((score["points"] for score in row["scores"].values() if not score["dropped"]), Fraction(0))
    return Fraction(str(row["brought"])) + counted + sign * int(row["deducted"])


def rule_key(competition: Competition, state: dict[str, Any], rule: str, row: dict[str, Any]) -> tuple[Any, ...]:
    """Give what a tie rule looks at, less being better."""
    sign = 1 if competition.get("standings", {}).get("order", "most") == "fewest" else -1
    scores = row["scores"]
    if rule.startswith("count_back"):
        places = Counter(
            score["place"]
            for score in scores.values()
            if score["has_result"]
            and score["breaks_ties"]
            and (rule == "count_back_all" or not score["dropped"])
            and (rule != "count_back_scoring" or score["points"] > 0)
        )
        return tuple(-places[place] for place in range(1, len(state["all"]) + MOST_VACANT + 2))
    if rule == "best_scores":
        return tuple(sorted(sign * score["points"] for score in scores.values() if not score["dropped"]))
    if rule == "last_event":
        last = [name for name in state["scores"] if name in row["open"]][-1:]
        place = scores[last[0]]["place"] if last and last[0] in scores else None
        return (10**6 if place is None else place,)
    if rule == "latest_events":
        nothing = Fraction(10**6)
        return tuple(sign * scores[name]["points"] if name in scores else nothing for name in reversed(row["open"]))
    return ()


def standing_rows(
    competition: Competition, facts: list[Fact], state: dict[str, Any], until: str | None
) -> dict[str, Any]:
    """Give the standing of a division: those who survived more cuts first, then by total, then by tie rules."""
    rows = []
    for entry in state["all"]:
        known = next(each for each in competition["entry"] if each["id"] == entry)
        row: dict[str, Any] = {"entry": entry, "brought": known.get("points_before", 0)}
        row["scores"] = score_lines(competition, state, entry)
        mark_dropped(competition, row["scores"], len(row["scores"]))
        gone = deductions_of(competition, facts, entry, until)
        row["deducted"] = sum(fact["points"] for fact in gone)
        row["total"] = total_of(competition, row)
        row["open"] = [name for name in state["scores"] if name in row["scores"]]
        row["survived"] = sum(entry in cut for cut in state["cuts"].values())
        rows.append(row)
    order_rows(competition, state, rows)
    return {"rows": rows, "scores": list(state["scores"])}


def order_rows(competition: Competition, state: dict[str, Any], rows: list[dict[str, Any]]) -> None:
    """Give each row its place and the rule that decided it."""
    rules = competition.get("standings", {})
    sign = 1 if rules.get("order", "most") == "fewest" else -1
    asked = rules.get("ties", USUAL_TIES)
    asked = asked[: asked.index("shared")] if "shared" in asked else asked
    for row in rows:
        row["level"] = (-row["survived"], sign * row["total"])
        row["keys"] = [rule_key(competition, state, rule, row) for rule in asked]
    for row in rows:
        others = [each for each in rows if each is not row]
        mine = (row["level"], row["keys"])
        row["place"] = 1 + sum((each["level"], each["keys"]) < mine for each in others)
        row["shared"] = any((each["level"], each["keys"]) == mine for each in others)
        level = [each for each in others if each["level"] == row["level"]]
        depth = [
            next((number for number, key in enumerate(row["keys"]) if key != each["keys"][number]), None)
            for each in level
        ]
        row["decided_by"] = None
        if level:
            row["decided_by"] = (
                "shared" if None in depth else asked[max(number for number in depth if number is not None)]
            )


def cut_after(
    competition: Competition, facts: list[Fact], division: str, event: dict[str, Any], state: dict[str, Any]
) -> None:
    """Make the cut after a complete event, if there is one."""
    cut = next(
        (
            each
            for each in competition.get("cut", [])
            if each["after"] == event["id"] and each.get("division", division) == division
        ),
        None,
    )
    if cut is None:
        return
    rows = [row for row in standing_rows(competition, facts, state, event["id"])["rows"] if row["entry"] in state["in"]]
    events = [each["id"] for each in competition["event"]]
    left = {each["id"]: each.get("left_after") for each in competition["entry"]}
    stay = [
        row
        for row in sorted(rows, key=lambda row: row["place"])
        if left[row["entry"]] is None or events.index(left[row["entry"]]) > events.index(event["id"])
    ]
    state["in"] = [row["entry"] for row in go_on(stay, cut["size"], cut.get("ties", "by_tie_rules"))]
    state["cuts"][event["id"]] = list(state["in"])


def go_on(stay: list[dict[str, Any]], size: int, ties: str) -> list[dict[str, Any]]:
    """Of those who may go on, give those who do, best first."""
    if len(stay) <= size:
        return stay
    last, first_out = stay[size - 1], stay[size]
    if ties == "by_tie_rules":
        return [row for row in stay if row["place"] <= last["place"]]
    if last["level"] != first_out["level"]:
        return stay[:size]
    if ties == "keep_all":
        return [row for row in stay if row["level"] <= last["level"]]
    return [row for row in stay if row["level"] < last["level"]]
