"""What a lane has achieved: from the story of its count to a status, a key that ranks it and the text that is printed.

A key is a tuple in which less is better. One without a result has the key None.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from oracle.counted import (
    Fact,
    Workout,
    before_the_end,
    clock_ms,
    final_pieces,
    full_count,
    is_endless,
    is_over,
    mark_count,
    order_of,
    passed_for_good,
    stays_home,
    story,
    windows,
)

WITHOUT = {"disqualified": "DSQ", "did_not_start": "DNS", "withdrawn": "WD"}
"""Facts that leave a lane without a result, and what is printed then: the earlier of these wins over those after it."""
NEVER = 10**12
"""Later than any time: a mark that was not passed."""


def time_text(ms: int, competition: dict[str, Any]) -> str:
    """Give a time as it is printed, with the decimals and the rounding the competition chose."""
    decimals = competition.get("time_decimals", 3)
    grain = 10 ** (3 - decimals)
    up = competition.get("time_rounding", "down") == "up"
    ms = (-(-ms // grain) if up else ms // grain) * grain
    tail = f".{ms % 1000:03d}"[: decimals + 1] if decimals else ""
    return f"{ms // 60_000}:{ms // 1000 % 60:02d}{tail}"


def called_at(workout: Workout, facts: list[Fact], lane: int) -> int | None:
    """Give the time of the judge's call: the first that was not followed by another tap that counted."""
    counted = [line["fact"] for line in story(workout, facts, lane) if line["moved"]]
    taps = [order_of(fact) for fact in counted if fact["fact"] != "count_corrected"]
    calls = [f for f in before_the_end(workout, facts) if f["fact"] == "finished" and f["lane"] == lane]
    return next((int(call["at_ms"]) for call in calls if all(tap < order_of(call) for tap in taps)), None)


def finish_ms(workout: Workout, facts: list[Fact], lane: int, lines: list[dict[str, Any]]) -> int | None:
    """Give the time of a lane that has done all the work: of the call, without one the moment the count was full."""
    full = passed_for_good(lines, None, full_count(workout))
    call = called_at(workout, facts, lane)
    return full if full is None or call is None else call


def penalties(facts: list[Fact], lane: int) -> tuple[int, int]:
    """Give the repetitions and the milliseconds of a lane's penalties."""
    given = [fact for fact in facts if fact["fact"] == "penalty_given" and fact["lane"] == lane]
    return sum(fact.get("reps", 0) for fact in given), sum(fact.get("ms", 0) for fact in given)


def lifts(workout: Workout, facts: list[Fact], lane: int) -> tuple[int, int, int]:
    """Give the heaviest good lift in thousandths, how many lifts were good and how many failed."""
    counting = {fact["id"] for fact in before_the_end(workout, facts)}
    load: int | None = None
    good, attempts, failed, gone = [], 0, 0, False
    for fact in facts:
        if fact.get("lane") != lane:
            continue
        gone = gone or fact["fact"] == "withdrawn"
        if fact["fact"] == "attempt_declared" and fact["id"] in counting and not gone:
            load = fact["load_milli"]
        elif fact["fact"] in ("attempt_made", "attempt_failed") and load is not None:
            attempts += 1
            allowed = attempts <= workout["lifting"].get("attempts", attempts)
            failed += allowed and fact["fact"] == "attempt_failed"
            if allowed and fact["fact"] == "attempt_made":
                good.append(load)
            load = None
    return max(good, default=0), len(good), failed


def load_text(milli: int, workout: Workout) -> str:
    """Give a load as it is printed."""
    if milli == 0:
        return "no lift"
    whole = Fraction(milli, 1000)
    return f"{float(whole):g} {workout['lifting'].get('unit', 'kg')}"


def lane_facts(workout: Workout, facts: list[Fact], lane: int) -> dict[str, Any]:
    """Give all there is to know of a lane before it is ranked."""
    lines = story(workout, facts, lane)
    left, late = penalties(facts, lane)
    count = sum(final_pieces(workout, lines))
    if workout["format"] == "max_load":
        count, left = lifts(workout, facts, lane)[1], 0
    return {
        "facts": facts,
        "lane": lane,
        "lines": lines,
        "scored": max(0, count - left),
        "counted": count,
        "left": left,
        "late": late,
        "no_reps": no_reps(workout, facts, lane),
        "out": next((kind for kind in WITHOUT if any(is_about(fact, kind, lane) for fact in facts)), None),
    }


def is_about(fact: Fact, kind: str, lane: int) -> bool:
    """Tell whether a fact is of a kind and about a lane."""
    return bool(fact["fact"] == kind and fact["lane"] == lane)


def was_home(workout: Workout, facts: list[Fact], lane: int) -> bool:
    """Tell whether a lane had done all the work when it was first said to have withdrawn, and still has."""
    if is_endless(workout) or workout["format"] == "max_load":
        return False
    gone = min(order_of(fact) for fact in facts if is_about(fact, "withdrawn", lane))
    return stays_home(workout, facts, lane, gone)


def in_reps(count: int) -> str:
    """Write a number of scored reps."""
    return f"{count} rep" if count == 1 else f"{count} reps"


def no_reps(workout: Workout, facts: list[Fact], lane: int) -> int:
    """Give how many attempts of a lane did not meet the standard, while it was at work."""
    failed = lifts(workout, facts, lane)[2] if workout["format"] == "max_load" else 0
    for line in story(workout, facts, lane):
        failed += line["fact"]["fact"] == "no_rep_called"
        failed += line["fact"]["fact"] == "attempt_failed" and workout["format"] == "ladder"
    return failed


def tie_break(workout: Workout, known: dict[str, Any]) -> int:
    """Give the clock when the lane passed the tie-break mark for good."""
    if "tie_break" not in workout:
        return 0
    at = passed_for_good(known["lines"], None, mark_count(workout, workout["tie_break"]))
    return NEVER if at is None else at


def outcome(competition: dict[str, Any], workout: Workout, facts: list[Fact], lane: int) -> dict[str, Any]:
    """Give a lane's status, key, text, time and count in the workout's own result."""
    known = lane_facts(workout, facts, lane)
    by_format = {
        "for_time": raced,
        "for_time_with_penalty": raced,
        "amrap": most_work,
        "ladder": laddered,
        "max_load": lifted,
        "intervals": in_pieces,
    }
    found = by_format[workout["format"]](competition["competition"], workout, known)
    if not is_over(workout, facts):
        found = working(workout, found, known)
    found = {"scored": known["scored"], "no_reps": known["no_reps"]} | found
    if known["out"] is not None and not (known["out"] == "withdrawn" and was_home(workout, facts, lane)):
        found |= {"status": known["out"], "key": None, "text": WITHOUT[known["out"]], "ms": None}
    return found


def raced(shown: dict[str, Any], workout: Workout, known: dict[str, Any]) -> dict[str, Any]:
    """For time, with a penalty for what is left or without."""
    done = finish_ms(workout, known["facts"], known["lane"], known["lines"])
    if done is not None:
        ms = done + known["late"]
        return {"status": "finished", "key": (0, ms), "ms": ms, "text": time_text(ms, shown)}
    left = full_count(workout) - known["scored"]
    if workout["format"] == "for_time_with_penalty":
        ms = clock_ms(workout["time_cap"]) + left * 1000 * workout["cap_penalty_seconds"] + known["late"]
        return {"status": "capped", "key": (0, ms), "ms": ms, "text": time_text(ms, shown)}
    key = (1, left, tie_break(workout, known))
    return {"status": "capped", "key": key, "ms": None, "text": f"CAP+{left}"}


def working(workout: Workout, found: dict[str, Any], known: dict[str, Any]) -> dict[str, Any]:
    """Give the outcome of a lane that is still at work: no time is final, what is done is shown."""
    if found["status"] == "finished":
        return found
    if workout["format"] == "for_time_with_penalty":
        found |= {"key": (1, -known["scored"])}
    if found["status"] == "capped" or workout["format"] == "intervals":
        found |= {"text": in_reps(known["scored"]), "ms": None}
    return found | {"status": "working"}


def most_work(shown: dict[str, Any], workout: Workout, known: dict[str, Any]) -> dict[str, Any]:
    """As many as possible."""
    del shown
    key = (-known["scored"], tie_break(workout, known))
    return {"status": "timed", "key": key, "ms": None, "text": in_reps(known["scored"])}


def laddered(shown: dict[str, Any], workout: Workout, known: dict[str, Any]) -> dict[str, Any]:
    """Up the bars."""
    del shown
    bars, left = 0, known["scored"]
    for station in workout["station"]:
        if left < station["amount"]:
            break
        bars, left = bars + 1, left - station["amount"]
    text = f"{bars} bar{'' if bars == 1 else 's'}" + (f" + {left}" if left else "")
    whole = known["counted"] >= full_count(workout)
    key = (-known["scored"], tie_break(workout, known))
    return {"status": "finished" if whole else "timed", "key": key, "ms": None, "text": text}


def lifted(shown: dict[str, Any], workout: Workout, known: dict[str, Any]) -> dict[str, Any]:
    """The heaviest good lift."""
    del shown
    best, _, _ = lifts(workout, known["facts"], known["lane"])
    return {"status": "timed", "key": (-best,), "ms": None, "text": load_text(best, workout)}


def of_pieces(how: str, values: list[int]) -> int:
    """Give the sum, the lowest or the highest of the pieces' values."""
    return sum(values) if how == "sum" else min(values) if how == "slowest" else max(values)


def in_pieces(shown: dict[str, Any], workout: Workout, known: dict[str, Any]) -> dict[str, Any]:
    """Pieces with rest between: the most work or the least time, of all, of the slowest or of the best."""
    counts, how = final_pieces(workout, known["lines"]), workout["intervals"].get("counts", "sum")
    if is_endless(workout):
        reps = max(0, of_pieces(how, counts) - known["left"])
        return {"status": "timed", "key": (-reps,), "ms": None, "text": in_reps(reps)}
    times = []
    for number, (start, end) in enumerate(windows(workout)):
        at = passed_for_good(known["lines"], number, full_count(workout))
        times.append(end - start if at is None else min(at, end) - start)
    ms = known["late"] - of_pieces(how, [-time for time in times])
    whole = sum(count >= full_count(workout) for count in counts)
    if whole == len(counts):
        return {"status": "finished", "key": (-whole, -sum(counts), ms), "ms": ms, "text": time_text(ms, shown)}
    left = full_count(workout) * len(counts) - known["scored"]
    return {"status": "capped", "key": (-whole, -known["scored"], ms), "ms": None, "text": f"CAP+{left}"}


def part_outcome(
    competition: dict[str, Any], event: dict[str, Any], part: dict[str, Any], facts: list[Fact], lane: int
) -> dict[str, Any]:
    """Give a lane's outcome in one of several scored parts."""
    workout = event["workout"]
    found = outcome(competition, workout, facts, lane)
    if part.get("measure", "result") == "result" or found["key"] is None:
        return found
    known = lane_facts(workout, facts, lane)
    if part["measure"] == "time_at":
        at = passed_for_good(known["lines"], None, mark_count(workout, part["mark"]))
        if at is None:
            text = in_reps(known["scored"])
            return found | {"key": (1, -known["scored"]), "ms": None, "text": text, "status": "capped"}
        at += known["late"]
        text = time_text(at, competition["competition"])
        return found | {"key": (0, at), "ms": at, "text": text, "status": "finished"}
    reps = max(0, count_at(workout, known["lines"], clock_ms(part["at"])) - known["left"])
    return found | {"key": (-reps,), "ms": None, "text": in_reps(reps), "scored": reps, "status": "timed"}


def count_at(workout: Workout, lines: list[dict[str, Any]], at_ms: int) -> int:
    """Give the scored reps at a time, less those that were taken away later."""
    until = [line for line in lines if line["at_ms"] <= at_ms]
    since = [sum(line["pieces"]) for line in lines if line["at_ms"] > at_ms]
    return int(min([sum(final_pieces(workout, until)), *since]))
