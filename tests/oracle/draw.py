"""Draw a competition file by chance: every format, table, tie rule and cut the file can say."""

from __future__ import annotations

from random import Random
from typing import Any

from oracle.counted import full_count

FORMATS = ("for_time", "for_time_with_penalty", "amrap", "max_load", "ladder", "intervals")
TIE_RULES = ("count_back", "count_back_all", "best_scores", "last_event", "latest_events")
SECOND = 1000


def clock(ms: int) -> str:
    """Give milliseconds as the competition file writes them."""
    return f"{ms // 60_000}:{ms // 1000 % 60:02d}"


def draw_competition(dice: Random) -> dict[str, Any]:
    """Give a competition that `tallywire check` has nothing against."""
    divisions = ["north", "south"][: dice.choice((1, 1, 2))]
    entries = draw_entries(dice, divisions)
    competition: dict[str, Any] = {"competition": {"name": "Random Trials"}}
    if dice.random() < 0.4:
        competition["competition"] |= {
            "time_decimals": dice.randint(0, 3),
            "time_rounding": dice.choice(("down", "up")),
        }
    competition["division"] = [{"id": each, "name": each.title()} for each in divisions]
    largest = max(sum(each["division"] == division for each in entries) for division in divisions)
    order = "fewest" if dice.random() < 0.2 else "most"
    draw_one = draw_rising_table if order == "fewest" else draw_table
    competition["points"] = [draw_one(dice, number, largest) for number in range(dice.randint(1, 3))]
    events = [draw_event(dice, number, competition["points"]) for number in range(dice.randint(1, 4))]
    competition["standings"] = draw_standings(dice, order, events, competition["points"])
    competition["entry"] = entries
    competition["event"] = events
    competition["heat"] = [heat for event in events for heat in draw_heats(dice, event, entries)]
    cuts = draw_cuts(dice, events, divisions, entries)
    if cuts:
        competition["cut"] = cuts
        for entry in entries:
            if dice.random() < 0.1:
                entry["left_after"] = dice.choice(events)["id"]
    draw_count_back(dice, competition)
    draw_vacant(dice, competition)
    return competition


def draw_vacant(dice: Random, competition: dict[str, Any]) -> None:
    """Now and then leave places of an event or a part vacant, within what the cuts may leave of the field."""
    room = min([each["size"] for each in competition.get("cut", [])], default=2)
    for event in competition["event"]:
        for each in event.get("part", [event]):
            if dice.random() < 0.12:
                division = dice.choice(competition["division"])["id"]
                places = dice.sample(range(1, room + 1), dice.randint(1, min(2, room)))
                each["vacant"] = [{"division": division, "place": place} for place in places]


def draw_count_back(dice: Random, competition: dict[str, Any]) -> None:
    """Now and then let count-back look at scoring places only, and pass over an event or a part."""
    rules = competition["standings"]
    if rules["order"] == "most" and dice.random() < 0.3:
        ties = [each for each in rules.get("ties", ["last_event"]) if each != "count_back"]
        rules["ties"] = ["count_back_scoring", *ties]
    for event in competition["event"]:
        for each in (event, *event.get("part", [])):
            if dice.random() < 0.15:
                each["count_back"] = dice.random() < 0.3


def draw_entries(dice: Random, divisions: list[str]) -> list[dict[str, Any]]:
    """Give two to seven entries a division."""
    found: list[dict[str, Any]] = []
    for division in divisions:
        for number in range(dice.randint(2, 7)):
            entry: dict[str, Any] = {
                "id": f"{division[0]}{number}",
                "name": f"{division.title()} {number}",
                "division": division,
            }
            if dice.random() < 0.15:
                entry["points_before"] = dice.choice((10, 20, 50))
            found.append(entry)
    return found


def draw_table(dice: Random, number: int, largest: int) -> dict[str, Any]:
    """Give a points table of one of the kinds, never with more for a worse place."""
    table: dict[str, Any] = {"id": f"table{number}"}
    kind = dice.choice(("list", "step", "formula"))
    if kind == "list":
        values = sorted((dice.choice((100, 90.5, 80, 72.25, 60, 50, 40, 20, 5)) for _ in range(largest)), reverse=True)
        table["places"] = values + [0] * dice.randint(0, 3)
    elif kind == "step":
        table |= {"first": dice.choice((100, 20, 12.5)), "step": dice.choice((10, 5, 7, 2.5))}
    else:
        table["formula"] = dice.choice(
            (
                "max(0, 100 - 7.5 * (place - 1))",
                "100 * (field - place + 1) / field",
                "round(100 * (field - place + 1) / (field + 1))",
                "50 // place + 3 - place % 1",
                "ceil(90 / place ** 2)",
                "floor(200 / (place + 1)) / 3",
                "min(80, 10 * (field - place + 1))",
            )
        )
    if dice.random() < 0.25 and kind != "formula":
        table["scale_to"] = largest + dice.randint(0, 5)
        if kind == "list":
            table["places"] = table["places"] + [0] * (table["scale_to"] - len(table["places"]))
    if dice.random() < 0.2:
        table["least"] = dice.choice((1, 5, 30))
    return table


def draw_rising_table(dice: Random, number: int, largest: int) -> dict[str, Any]:
    """Give a points table for standings in which the fewest points win."""
    if dice.random() < 0.5:
        formula = dice.choice(("place", "2 * place - 1", "floor(place * 1.5)", "100 * place / field"))
        return {"id": f"table{number}", "formula": formula}
    steps = [dice.choice((1, 1, 2, 0.5, 0)) for _ in range(largest)]
    return {"id": f"table{number}", "places": [sum(steps[:place]) for place in range(1, largest + 1)]}


def draw_standings(
    dice: Random, order: str, events: list[dict[str, Any]], tables: list[dict[str, Any]]
) -> dict[str, Any]:
    """Give rules for the standing."""
    rules: dict[str, Any] = {"order": order}
    scores = sum(len(event.get("part", [event])) for event in events)
    if scores > 1 and dice.random() < 0.4:
        rules["drop_worst"] = dice.randint(1, min(2, scores - 1))
        if dice.random() < 0.5:
            rules["drop_from"] = dice.randint(1, scores)
        if dice.random() < 0.4:
            rules["drop_disqualified"] = False
    if dice.random() < 0.6:
        ties = dice.sample(TIE_RULES, dice.randint(0, 3))
        rules["ties"] = [*ties, "shared"] if not ties or dice.random() < 0.3 else ties
    if dice.random() < 0.3:
        rules["tables_from"] = [{"event": dice.choice(events)["id"], "points": dice.choice(tables)["id"]}]
    return rules


def draw_cuts(
    dice: Random, events: list[dict[str, Any]], divisions: list[str], entries: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """Give a cut after some events, for each division or for one."""
    cuts: list[dict[str, Any]] = []
    room = min(sum(each["division"] == division for each in entries) for division in divisions)
    for event in events[:-1]:
        if dice.random() < 0.35:
            cut: dict[str, Any] = {"after": event["id"], "size": dice.randint(1, room)}
            room = cut["size"]
            if dice.random() < 0.3:
                cut["division"] = dice.choice(divisions)
            if dice.random() < 0.7:
                cut["ties"] = dice.choice(("by_tie_rules", "keep_all", "none"))
            cuts.append(cut)
    return cuts


def draw_heats(dice: Random, event: dict[str, Any], entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Put nearly all entries on the lanes of one to three heats, divisions apart or together."""
    there = [each for each in entries if dice.random() < 0.93] or entries[:1]
    if dice.random() < 0.6:
        dice.shuffle(there)
    count = min(len(there), dice.choice((1, 2, 2, 3)))
    heats = []
    for number in range(count):
        lanes = {str(lane): each["id"] for lane, each in enumerate(there[number::count], start=dice.randint(1, 3))}
        heats.append(
            {"id": f"{event['id']}-{number + 1}", "name": f"Heat {number + 1}", "event": event["id"], "lanes": lanes}
        )
    return heats


def draw_event(dice: Random, number: int, tables: list[dict[str, Any]]) -> dict[str, Any]:
    """Give an event with a workout of a format drawn by chance."""
    event: dict[str, Any] = {"id": f"event{number}", "name": f"Event {number}"}
    if dice.random() < 0.5:
        event["points"] = dice.choice(tables)["id"]
    if dice.random() < 0.3:
        event["ties"] = "mean"
    workout = event["workout"] = draw_workout(dice, dice.choice(FORMATS))
    if dice.random() < 0.25:
        workout["minimum_reps"] = dice.randint(1, 1 if workout["format"] == "max_load" else min(4, full_count(workout)))
    if workout["format"] in ("for_time", "for_time_with_penalty", "amrap") and dice.random() < 0.3:
        event["part"] = draw_parts(dice, event["id"], workout, tables)
    return event


def draw_stations(dice: Random) -> list[dict[str, Any]]:
    """Give one to three stations, some credited as one."""
    stations: list[dict[str, Any]] = []
    for _ in range(dice.randint(1, 3)):
        station: dict[str, Any] = {"movement": "Step", "amount": dice.randint(1, 4)}
        if dice.random() < 0.3:
            station |= {"credit": "block", "amount": dice.randint(1, 6)}
        if dice.random() < 0.2:
            station["unit"] = dice.choice(("metres", "calories", "seconds"))
        stations.append(station)
    return stations


def draw_workout(dice: Random, form: str) -> dict[str, Any]:
    """Give a small workout, a minute or two long."""
    workout: dict[str, Any] = {"format": form, "time_cap": clock(dice.choice((40, 60, 90)) * SECOND)}
    if form == "max_load":
        draw_lifting(dice, workout)
        return workout
    if form == "ladder":
        draw_ladder(dice, workout)
        return workout
    draw_rounds(dice, workout)
    if form == "for_time_with_penalty":
        workout["cap_penalty_seconds"] = dice.randint(1, 3)
    if form == "intervals":
        pieces, rest = dice.randint(2, 3), dice.choice((0, 5))
        workout["time_cap"] = clock((pieces * 10 + (pieces - 1) * rest) * SECOND)
        workout["intervals"] = {"pieces": pieces, "work": "0:10", "counts": dice.choice(("sum", "slowest", "best"))}
        workout["intervals"] |= {"timed": dice.random() < 0.5} | ({"rest": clock(rest * SECOND)} if rest else {})
    if form in ("for_time", "amrap") and dice.random() < 0.6:
        workout["tie_break"] = draw_mark(dice, workout)
    if dice.random() < 0.45:
        workout["team"] = {"form": dice.choice(("relay", "synchro", "shared")), "members": dice.randint(2, 3)}
    return workout


def draw_lifting(dice: Random, workout: dict[str, Any]) -> None:
    """Give attempts at loads in kilograms or pounds."""
    attempts = dice.randint(2, 4)
    unit = dice.choice(("kg", "lb"))
    workout["lifting"] = {"plates": [20, 10, 5, 2.5, 1] if unit == "kg" else [45, 25, 10, 5, 2.5], "unit": unit}
    workout["lifting"] |= {} if unit == "kg" else {"bar": 45}
    if dice.random() < 0.7:
        workout["lifting"]["attempts"] = attempts
    workout["station"] = [{"movement": "Lift", "amount": attempts}]


def draw_ladder(dice: Random, workout: dict[str, Any]) -> None:
    """Give bars with a window each."""
    bars = dice.randint(2, 4)
    workout["ladder"] = {"window": "0:10"}
    workout["station"] = [{"movement": "Lift", "amount": dice.randint(1, 3)} for _ in range(bars)]
    if dice.random() < 0.5:
        workout["tie_break"] = {"round": 1, "station": dice.randint(1, bars)}


def draw_rounds(dice: Random, workout: dict[str, Any]) -> None:
    """Give the same stations a few times, or rounds that differ."""
    if dice.random() < 0.3:
        workout["round"] = [{"station": draw_stations(dice)} for _ in range(dice.randint(1, 3))]
    else:
        workout["station"] = draw_stations(dice)
        workout["rounds"] = dice.randint(1, 3)


def draw_mark(dice: Random, workout: dict[str, Any]) -> dict[str, int]:
    """Give the end of a station that the workout has."""
    rounds = [each["station"] for each in workout["round"]] if "round" in workout else None
    number = dice.randint(1, len(rounds) if rounds else workout["rounds"])
    stations = rounds[number - 1] if rounds else workout["station"]
    return {"round": number, "station": dice.randint(1, len(stations))}


def draw_parts(dice: Random, event: str, workout: dict[str, Any], tables: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Give two or three scores of one performance."""
    kinds = dice.sample(("result", "time_at", "reps_at"), dice.randint(2, 3))
    parts: list[dict[str, Any]] = []
    for kind in kinds:
        part: dict[str, Any] = {"id": f"{event}-{kind}", "name": kind, "measure": kind}
        if kind == "time_at":
            part["mark"] = draw_mark(dice, workout)
        if kind == "reps_at":
            part["at"] = clock(dice.choice((10, 20, 30)) * SECOND)
        if dice.random() < 0.3:
            part["points"] = dice.choice(tables)["id"]
        parts.append(part)
    return parts
