"""Which features a case reaches: so that a test can say that none is left out."""

from __future__ import annotations

from typing import Any

from oracle.counted import Fact, order_of, standing_facts
from oracle.draw import FORMATS, TIE_RULES

ALL = frozenset(
    {*FORMATS, "timed intervals", "intervals for reps", "sum", "slowest", "best", "relay", "synchro", "shared"}
    | {f"tie rule {rule}" for rule in (*TIE_RULES, "count_back_scoring", "shared")}
    | {f"part {kind}" for kind in ("result", "time_at", "reps_at")}
    | {f"table {kind}" for kind in ("places", "first", "formula", "scale_to", "least")}
    | {f"cut {ties}" for ties in ("by_tie_rules", "keep_all", "none")}
    | {"block credit", "rounds that differ", "tie-break", "minimum_reps", "mean ties", "tables_from", "left_after"}
    | {"points_before", "fewest", "drop_worst", "drop_from", "drop_disqualified", "two divisions", "attempts"}
    | {"event out of count-back", "part out of count-back", "part in count-back"}
    | {"correction up", "correction down", "late correction", "void", "void of a void", "tap of several", "late tap"}
    | {"late lines", "line twice", "two calls", "unstarted heat", "running heat", "ended early", "guest", "mixed heat"}
    | {"penalty in reps", "penalty in seconds", "rep_counted", "block_completed", "no_rep_called", "finished"}
    | {"attempt_declared", "attempt_made", "attempt_failed", "exchanged", "withdrawn", "did_not_start", "disqualified"}
    | {"points_deducted", "hold_placed", "hold_released", "sheet_checked", "appeal_decided", "cut made", "cut again"}
    | {"shared place", "decided by a tie rule", "dropped score", "under the least work", "no lane at all", "CAP+n"}
)
"""Every feature a draw must reach."""


def features(competition: dict[str, Any], lines: list[Fact], expected: dict[str, Any]) -> set[str]:
    """Give the features of a case: of its file, of its recording and of what came out."""
    return of_file(competition) | of_recording(competition, lines) | of_outcome(competition, expected)


def of_file(competition: dict[str, Any]) -> set[str]:
    """Give what the competition file says."""
    rules = competition["standings"]
    found = {name for name in ("drop_worst", "drop_from", "drop_disqualified", "tables_from") if name in rules}
    found |= {rules["order"]} | {f"tie rule {rule}" for rule in rules.get("ties", [])}
    found |= {f"table {name}" for table in competition["points"] for name in table}
    found |= {f"cut {cut.get('ties', 'by_tie_rules')}" for cut in competition.get("cut", [])}
    found |= {name for entry in competition["entry"] for name in ("points_before", "left_after") if name in entry}
    found |= {"two divisions"} if len(competition["division"]) > 1 else set()
    laned = {who for heat in competition["heat"] for who in heat["lanes"].values()}
    found |= {"no lane at all"} if any(entry["id"] not in laned for entry in competition["entry"]) else set()
    found |= (
        {"mixed heat"}
        if any(len({who[0] for who in heat["lanes"].values()}) > 1 for heat in competition["heat"])
        else set()
    )
    for event in competition["event"]:
        found |= {f"event {in_or_out(event)} count-back"} if "count_back" in event else set()
        found |= {f"part {in_or_out(part)} count-back" for part in event.get("part", []) if "count_back" in part}
        workout = event["workout"]
        plan, stations = workout.get("intervals"), workout.get("station", [])
        found |= {workout["format"], workout.get("team", {}).get("form", "alone")}
        found |= {f"part {part['measure']}" for part in event.get("part", [])}
        found |= {"mean ties"} if event.get("ties") == "mean" else set()
        found |= {"tie-break"} if "tie_break" in workout else set()
        found |= {"minimum_reps"} if "minimum_reps" in workout else set()
        found |= {"rounds that differ"} if "round" in workout else set()
        found |= {"attempts"} if "attempts" in workout.get("lifting", {}) else set()
        found |= {"block credit"} if any(station.get("credit") == "block" for station in stations) else set()
        if plan:
            found |= {plan["counts"], "timed intervals" if plan["timed"] else "intervals for reps"}
    return found


def in_or_out(said: dict[str, Any]) -> str:
    """Tell how an event or a part takes part in count-back."""
    return "in" if said["count_back"] else "out of"


def of_recording(competition: dict[str, Any], lines: list[Fact]) -> set[str]:
    """Give what the recording tells."""
    found = {line["fact"] for line in lines}
    facts = standing_facts(lines)
    started = {fact["heat"] for fact in facts if fact["fact"] == "heat_started"}
    ended = {fact["heat"]: fact["at_ms"] for fact in facts if fact["fact"] == "heat_ended"}
    found |= {"unstarted heat"} if started != {heat["id"] for heat in competition["heat"]} else set()
    found |= {"running heat"} if started != set(ended) else set()
    found |= {"line twice"} if len({line["id"] for line in lines}) < len(lines) else set()
    found |= {"late lines"} if [order_of(line) for line in lines] != sorted(order_of(line) for line in lines) else set()
    voids = {line["id"] for line in lines if line["fact"] == "fact_voided"}
    found |= {"void"} if voids else set()
    found |= {"void of a void"} if any(line.get("voids") in voids for line in lines) else set()
    calls = [(fact["heat"], fact["lane"]) for fact in facts if fact["fact"] == "finished"]
    found |= {"two calls"} if len(set(calls)) < len(calls) else set()
    caps = {heat["id"]: cap_ms(competition, heat["event"]) for heat in competition["heat"]}
    for fact in facts:
        late = fact["at_ms"] > min(caps[fact["heat"]], ended.get(fact["heat"], 10**9))
        found |= {"tap of several"} if fact.get("n", 1) > 1 else set()
        found |= {"late tap"} if late and fact["fact"] in ("rep_counted", "attempt_made") else set()
        found |= {"late correction"} if late and fact["fact"] == "count_corrected" else set()
        found |= {"penalty in reps"} if fact.get("reps") else set()
        found |= {"penalty in seconds"} if fact.get("ms") else set()
        found |= {"ended early"} if fact["fact"] == "heat_ended" and fact["at_ms"] < caps[fact["heat"]] else set()
    return found | of_corrections(facts)


def cap_ms(competition: dict[str, Any], event: str) -> int:
    """Give the cap of an event."""
    text = next(each["workout"]["time_cap"] for each in competition["event"] if each["id"] == event)
    return (int(text.split(":")[0]) * 60 + int(text.split(":")[1])) * 1000


def of_corrections(facts: list[Fact]) -> set[str]:
    """Tell up from down, by the taps before."""
    found: set[str] = set()
    for fact in facts:
        if fact["fact"] == "count_corrected":
            mine = [f for f in facts if f["heat"] == fact["heat"] and f.get("lane") == fact["lane"]]
            taps = [f for f in mine if "counted" in f["fact"] and order_of(f) < order_of(fact)]
            found.add("correction up" if fact["scored_reps"] > len(taps) else "correction down")
    return found


def of_outcome(competition: dict[str, Any], expected: dict[str, Any]) -> set[str]:
    """Give what came out of it."""
    found: set[str] = set()
    least = {event["id"]: event["workout"].get("minimum_reps", 0) for event in competition["event"]}
    for row in expected["results"]:
        found |= {"shared place"} if row["place_shared"] and row["key"] is not None else set()
        found |= {"guest"} if row["guests"] else set()
        found |= {"CAP+n"} if row["text"].startswith("CAP+") else set()
        found |= {"under the least work"} if row["key"] is not None and row["scored"] < least[row["event"]] else set()
    for standing in expected["standings"].values():
        found |= {"cut made"} if standing["cuts"] else set()
        found |= {"cut again"} if len(standing["cuts"]) > 1 else set()
        for row in standing["rows"]:
            found |= {"decided by a tie rule"} if row["decided_by"] not in (None, "shared") else set()
            found |= {"dropped score"} if any(score["dropped"] for score in row["scores"].values()) else set()
    return found
