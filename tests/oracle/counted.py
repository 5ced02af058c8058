"""What a lane has counted: from the facts of a heat to the story of its cumulative number.

Everything here is a plain function over plain dicts, as the competition file and the recording have them. It is slow on
purpose: nothing is remembered between two questions. It shares no code with the program it judges.
"""

from __future__ import annotations

from typing import Any

Fact = dict[str, Any]
Workout = dict[str, Any]


def clock_ms(text: str) -> int:
    """Give a clock of the competition file, `M:SS` with decimals or not, in milliseconds."""
    minutes, seconds = text.split(":")
    whole, _, decimals = seconds.partition(".")
    return (int(minutes) * 60 + int(whole)) * 1000 + int((decimals + "000")[:3])


def order_of(fact: Fact) -> tuple[int, str, int]:
    """Give the place of a fact in the one order (docs/recording.md, The rules)."""
    return fact["at_ms"], fact["sender"], fact["sequence"]


def standing_facts(lines: list[Fact]) -> list[Fact]:
    """Give the facts that stand, in the one order: each once, without those that were voided."""
    once: dict[str, Fact] = {}
    for fact in sorted((line for line in lines if "refused" not in line), key=order_of):
        once.setdefault(fact["id"], fact)
    struck: set[str] = set()
    for fact in reversed(list(once.values())):
        if fact["fact"] == "fact_voided" and fact["id"] not in struck:
            later_void = once.get(fact["voids"], {}).get("fact") == "fact_voided" and order_of(
                once[fact["voids"]]
            ) > order_of(fact)
            if not later_void:
                struck.add(fact["voids"])
    return [fact for fact in once.values() if fact["id"] not in struck and fact["fact"] != "fact_voided"]


def before_the_end(workout: Workout, facts: list[Fact]) -> list[Fact]:
    """Give the facts up to the cap or the end called by the officials, whichever came first."""
    cap = clock_ms(workout["time_cap"])
    ends = [order_of(fact) for fact in facts if fact["fact"] == "heat_ended"]
    return [fact for fact in facts if fact["at_ms"] <= cap and (not ends or order_of(fact) <= min(ends))]


def end_of(workout: Workout, facts: list[Fact]) -> int:
    """Give the time of the cap or of the end called by the officials, whichever came first."""
    return min([clock_ms(workout["time_cap"]), *(int(fact["at_ms"]) for fact in facts if fact["fact"] == "heat_ended")])


def rounds_of(workout: Workout) -> list[list[dict[str, Any]]]:
    """Give the stations round by round, once through."""
    if "round" in workout:
        return [each["station"] for each in workout["round"]]
    return [workout["station"]] * workout.get("rounds", 1)


def stations_of(workout: Workout) -> list[dict[str, Any]]:
    """Give all stations in a row, once through."""
    return [station for stations in rounds_of(workout) for station in stations]


def credit_of(station: dict[str, Any]) -> int:
    """Give how many scored reps a whole station is."""
    return 1 if station.get("credit", "unit") == "block" else int(station["amount"])


def is_endless(workout: Workout) -> bool:
    """Tell whether the rounds begin again when they are done."""
    return workout["format"] == "amrap" or (
        workout["format"] == "intervals" and not workout["intervals"].get("timed", False)
    )


def full_count(workout: Workout) -> int:
    """Give the scored reps of the rounds once through: of one piece, in intervals."""
    return sum(credit_of(station) for station in stations_of(workout))


def scored(workout: Workout, units: int) -> int:
    """Give the scored reps of a lane that has done so many units from the first station on."""
    total, stations = 0, stations_of(workout)
    while units > 0:
        for station in stations:
            if units >= station["amount"]:
                total += credit_of(station)
            elif station.get("credit", "unit") == "unit" and units > 0:
                total += units
            units -= station["amount"]
        if not is_endless(workout):
            break
    return total


def units_for(workout: Workout, count: int) -> int:
    """Give the fewest units that make so many scored reps, or all there are."""
    units, stations = 0, stations_of(workout)
    while True:
        for station in stations:
            if count <= 0:
                return units
            units += station["amount"] if credit_of(station) <= count else count
            count -= credit_of(station)
        if not is_endless(workout):
            return units


def station_end(workout: Workout, units: int) -> int:
    """Give the units at the end of the station that a lane with so many units is at."""
    end, stations = 0, stations_of(workout)
    while True:
        for station in stations:
            end += int(station["amount"])
            if units < end:
                return end
        if not is_endless(workout):
            return end


def station_at(workout: Workout, units: int) -> dict[str, Any]:
    """Give the station that a lane with so many units is at; past all of them the last."""
    stations = stations_of(workout)
    units = units % sum(station["amount"] for station in stations) if is_endless(workout) else units
    for station in stations:
        units -= station["amount"]
        if units < 0:
            return station
    return stations[-1]


def mark_count(workout: Workout, mark: dict[str, int]) -> int:
    """Give the cumulative number at the end of a station of a round; where rounds begin again they are counted on."""
    rounds = rounds_of(workout)
    done = [rounds[number % len(rounds)] for number in range(mark["round"])]
    done[-1] = done[-1][: mark["station"]]
    return sum(credit_of(station) for stations in done for station in stations)


def windows(workout: Workout) -> list[tuple[int, int]]:
    """Give the windows of the pieces in milliseconds; any other workout is one piece up to the cap."""
    if workout["format"] != "intervals":
        return [(0, clock_ms(workout["time_cap"]))]
    plan = workout["intervals"]
    work, rest = clock_ms(plan["work"]), clock_ms(plan.get("rest", "0:00"))
    return [(number * (work + rest), number * (work + rest) + work) for number in range(plan["pieces"])]


def piece_at(workout: Workout, at_ms: int) -> int | None:
    """Give the number of the piece that is open at a time, None in a rest; at a seam the later one."""
    open_now = [number for number, (start, end) in enumerate(windows(workout)) if start <= at_ms <= end]
    return open_now[-1] if open_now else None


def begun_piece(workout: Workout, at_ms: int) -> int:
    """Give the number of the latest piece that had begun at a time."""
    return max(number for number, (start, _) in enumerate(windows(workout)) if start <= at_ms)


def piece_counts(workout: Workout, pieces: list[list[int]]) -> list[int]:
    """Give the scored reps of each piece: together each member's own count, of which the lowest holds."""
    return [scored(workout, min(members)) for members in pieces]


def is_over(workout: Workout, facts: list[Fact]) -> bool:
    """Tell whether a heat is over: ended by the officials, or a fact shows that its clock is past the cap."""
    return any(fact["fact"] == "heat_ended" or fact["at_ms"] >= clock_ms(workout["time_cap"]) for fact in facts)


def corrected(workout: Workout, members: list[int], count: int) -> list[int]:
    """Give the members' units once the number is set: where it says, but whoever has it keeps a block begun."""
    return [own if scored(workout, own) == count else units_for(workout, count) for own in members]


def ladder_open(workout: Workout, units: int, at_ms: int) -> bool:
    """Tell whether the bar that a lane is at may be lifted at a time: after the bars before it, in its window."""
    window, end = clock_ms(workout["ladder"]["window"]), 0
    for number, station in enumerate(stations_of(workout)):
        end += station["amount"]
        if units < end:
            return number * window <= at_ms <= (number + 1) * window
    return False


def ladder_out(workout: Workout, units: int, at_ms: int) -> bool:
    """Tell whether the window of the bar that a lane is at has closed."""
    if workout["format"] != "ladder":
        return False
    bars = [
        sum(each["amount"] for each in workout["station"][: number + 1]) for number in range(len(workout["station"]))
    ]
    open_bars = [number for number, end in enumerate(bars) if units < end]
    return bool(open_bars) and at_ms > (open_bars[0] + 1) * clock_ms(workout["ladder"]["window"])


def step(workout: Workout, members: list[int], who: int, fact: Fact) -> None:
    """Count one tap for a member: so many units, or to the end of the block, and no further than all the work."""
    if fact["fact"] == "block_completed":
        if station_at(workout, members[who]).get("credit", "unit") == "block":
            members[who] = station_end(workout, members[who])
    else:
        members[who] += fact.get("n", 1)
    if not is_endless(workout):
        members[who] = min(members[who], sum(station["amount"] for station in stations_of(workout)))


def story(workout: Workout, facts: list[Fact], lane: int, *, on_and_on: bool = False) -> list[dict[str, Any]]:
    """Give the pieces' counts of a lane after each of its facts that changed or could change them.

    Each line has the fact, `at_ms` (of a correction after the end, the end), `pieces` (the scored reps by piece) and
    whether any unit of work `moved`. `on_and_on`: as if nobody had withdrawn.
    """
    form = workout.get("team", {}).get("form")
    together = workout["team"]["members"] if form == "synchro" else 1
    pieces = [[0] * together for _ in windows(workout)]
    counting = {fact["id"] for fact in before_the_end(workout, facts)}
    lines: list[dict[str, Any]] = []
    gone, end = False, end_of(workout, facts)
    for fact in facts:
        if fact.get("lane") == lane and fact["fact"] == "withdrawn" and not gone and not on_and_on:
            gone = is_endless(workout) or not stays_home(workout, facts, lane, order_of(fact))
            end = min(end, fact["at_ms"]) if gone else end
        too_late = gone or fact["id"] not in counting
        if fact.get("lane") != lane or (too_late and fact["fact"] != "count_corrected"):
            continue
        piece, before = piece_at(workout, fact["at_ms"]), [list(members) for members in pieces]
        at = fact["at_ms"]
        if fact["fact"] == "count_corrected":
            now = begun_piece(workout, min(at, end))
            at = min(at, end, windows(workout)[now][1])
            pieces[now] = corrected(workout, pieces[now], fact["scored_reps"])
        elif fact["fact"] in ("rep_counted", "block_completed", "attempt_made") and piece is not None:
            who = fact.get("member", 1) - 1 if form == "synchro" else 0
            if workout["format"] == "ladder" and not ladder_open(workout, pieces[0][0], fact["at_ms"]):
                continue
            step(workout, pieces[piece], who, fact)
        elif (piece is None and fact["fact"] == "no_rep_called") or (
            fact["fact"] == "attempt_failed" and ladder_out(workout, pieces[0][0], fact["at_ms"])
        ):
            continue
        lines.append({"fact": fact, "at_ms": at, "pieces": piece_counts(workout, pieces)})
        lines[-1]["moved"] = pieces != before
    return lines


def final_pieces(workout: Workout, lines: list[dict[str, Any]]) -> list[int]:
    """Give the counts of the pieces at the end of a story."""
    return list(lines[-1]["pieces"]) if lines else [0 for _ in windows(workout)]


def stays_home(workout: Workout, facts: list[Fact], lane: int, since: tuple[int, str, int]) -> bool:
    """Tell whether a lane had done all the work by then, and still has at the end of its facts."""
    lines = story(workout, facts, lane, on_and_on=True)
    before = [line for line in lines if order_of(line["fact"]) < since]
    counts = final_pieces(workout, before) + final_pieces(workout, lines)
    return all(count >= full_count(workout) for count in counts)


def passed_for_good(lines: list[dict[str, Any]], piece: int | None, count: int) -> int | None:
    """Give when a count was reached and not lost again, of a piece or of all; None where it was not."""
    since: int | None = None
    for line in lines:
        reached = sum(line["pieces"]) if piece is None else line["pieces"][piece]
        if reached < count:
            since = None
        elif since is None:
            since = line["at_ms"]
    return since
