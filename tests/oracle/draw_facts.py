"""Draw the recording of a competition by chance: taps of every kind, mistakes and what mends them, officials."""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Any

from oracle.counted import clock_ms, full_count, is_endless, windows

Fact = dict[str, Any]


def fact(kind: str, heat: str, at_ms: int, sender: str, **fields: Any) -> Fact:
    """Give a fact that has no number yet."""
    return {"fact": kind, "heat": heat, "at_ms": max(0, at_ms), "sender": sender, **fields}


def draw_recording(dice: Random, competition: dict[str, Any]) -> list[Fact]:
    """Give the lines of a recording of all heats that were held, in the order in which they arrived."""
    facts: list[Fact] = []
    for event in competition["event"]:
        unheld = dice.random() < 0.12
        for heat in [each for each in competition["heat"] if each["event"] == event["id"]]:
            if facts and unheld and dice.random() < 0.6:
                continue
            timed = event["workout"].get("intervals", {}).get("timed", False)
            runs = "cut" not in competition and not timed and dice.random() < 0.1
            facts += number_facts(draw_heat(dice, event["workout"], heat, runs), len(facts))
    return arrived(dice, add_voids(dice, facts))


def number_facts(facts: list[Fact], before: int) -> list[Fact]:
    """Give each fact its id and its sender's next number, in the order of the clock."""
    facts.sort(key=lambda each: each["at_ms"])
    for number, each in enumerate(facts, start=before + 1):
        each |= {"sequence": number, "id": f"{each['sender']}.{number}"}
    return facts


def draw_heat(dice: Random, workout: dict[str, Any], heat: dict[str, Any], runs: bool) -> list[Fact]:
    """Give the facts of one heat."""
    table = "table-a"
    facts = [fact("heat_started", heat["id"], 0, table, unix_ms=1_800_000_000_000)]
    cap = clock_ms(workout["time_cap"])
    end = cap + 1500 if dice.random() < 0.75 else dice.randrange(cap // 2, cap + 1000)
    if not runs:
        facts.append(fact("heat_ended", heat["id"], end, table))
    for lane in heat["lanes"]:
        facts += draw_lane(dice, workout, heat["id"], int(lane))
        facts += draw_officials(dice, workout, heat["id"], int(lane))
    return facts


def draw_lane(dice: Random, workout: dict[str, Any], heat: str, lane: int) -> list[Fact]:
    """Give what the pad of a lane sends."""
    if dice.random() < 0.04:
        return []
    sender = f"lane-{lane}-pad"
    if workout["format"] == "max_load":
        return draw_lifts(dice, workout, heat, lane, sender)
    if workout["format"] == "ladder":
        return draw_bars(dice, workout, heat, lane, sender)
    facts: list[Fact] = []
    for window in windows(workout):
        facts += draw_piece(dice, workout, heat, lane, window)
    fixed = workout["format"] in ("for_time", "for_time_with_penalty")
    if fixed and facts and dice.random() < 0.6:
        at = max(each["at_ms"] for each in facts) + dice.choice((0, 100, 400, 500))
        facts.append(fact("finished", heat, at, sender, lane=lane))
        if dice.random() < 0.2:
            facts.append(fact("finished", heat, at + dice.choice((-1500, 300, 700)), sender, lane=lane))
    return facts


def draw_piece(dice: Random, workout: dict[str, Any], heat: str, lane: int, window: tuple[int, int]) -> list[Fact]:
    """Give the taps of one piece, until the work is done or some time after the end."""
    start, end = window
    form, members = workout.get("team", {}).get("form"), workout.get("team", {}).get("members", 1)
    sender, now, done = f"lane-{lane}-pad", start + dice.choice((0, 500)), 0
    want = 30 if is_endless(workout) else full_count(workout) * (members if form == "synchro" else 1) + 2
    pace = dice.choice((500, 1000, 1000, 1500, 3000)) * (1 if end - start < 20_000 else 2)
    facts: list[Fact] = []
    turn = 1
    while done < want and now < end + 2 * pace:
        now += dice.choice((pace, pace, pace + 500, pace + dice.randrange(1000)))
        who: dict[str, Any] = {}
        if form == "synchro":
            who = {"member": done % members + 1 if dice.random() < 0.9 else dice.randint(1, members)}
        elif form == "relay" and dice.random() < 0.3:
            who = {"member": turn if dice.random() < 0.8 else dice.randint(1, members)}
        elif form == "shared" and dice.random() < 0.7:
            who = {"member": dice.randint(1, members)}
        if form == "relay" and dice.random() < 0.2:
            turn = turn % members + 1
            facts.append(fact("exchanged", heat, now - 100, sender, lane=lane, member=turn))
        chance = dice.random()
        if chance < 0.06:
            facts.append(fact("no_rep_called", heat, now, sender, lane=lane))
        elif chance < 0.18:
            facts.append(fact("block_completed", heat, now, sender, lane=lane, **who))
        else:
            n = {} if dice.random() < 0.85 else {"n": dice.randint(2, 4)}
            facts.append(fact("rep_counted", heat, now, sender, lane=lane, **n, **who))
        done += 1
    return facts


def draw_lifts(dice: Random, workout: dict[str, Any], heat: str, lane: int, sender: str) -> list[Fact]:
    """Give declared loads, good lifts and failures; the last may be judged after the end."""
    facts: list[Fact] = []
    now, load = 0, dice.choice((40_000, 50_000, 60_000))
    cap = clock_ms(workout["time_cap"])
    for _ in range(workout["station"][0]["amount"] + dice.choice((-1, 0, 0, 1))):
        now += dice.choice((5000, 10_000, 15_000))
        if dice.random() < 0.1:
            now = cap - dice.choice((0, 500, -500))
        facts.append(fact("attempt_declared", heat, now, sender, lane=lane, load_milli=load))
        now += dice.choice((1000, 2000, 4000))
        good = dice.random() < 0.6
        facts.append(fact("attempt_made" if good else "attempt_failed", heat, now, sender, lane=lane))
        load += dice.choice((2000, 5000, 10_000)) if good else dice.choice((0, 0, 1000, -2000))
    return facts


def draw_bars(dice: Random, workout: dict[str, Any], heat: str, lane: int, sender: str) -> list[Fact]:
    """Give lifts bar by bar, each within its window or a little late."""
    facts: list[Fact] = []
    window = clock_ms(workout["ladder"]["window"])
    early = 1500
    for number, station in enumerate(workout["station"]):
        now = number * window + dice.choice((500, 1000)) - (early if dice.random() < 0.3 else 0)
        for _ in range(station["amount"] + (dice.random() < 0.3)):
            now += dice.choice((1000, 2000, 3000))
            kind = "attempt_made" if dice.random() < 0.85 else "attempt_failed"
            facts.append(fact(kind, heat, now, sender, lane=lane))
    return facts


def draw_officials(dice: Random, workout: dict[str, Any], heat: str, lane: int) -> list[Fact]:
    """Give corrections, penalties, withdrawals, holds, appeals and checked sheets."""
    facts: list[Fact] = []

    def say(kind: str, at_ms: int, **fields: Any) -> None:
        facts.append(fact(kind, heat, at_ms, "table-a", lane=lane, **fields))

    cap = clock_ms(workout["time_cap"])
    if workout["format"] != "max_load" and dice.random() < 0.15:
        at = dice.choice((dice.randrange(cap // 4, cap), cap + 5000))
        say("count_corrected", at, scored_reps=dice.randint(0, 14), reason="sheet")
    draw_verdicts(dice, cap, say)
    draw_papers(dice, cap, say)
    return facts


def draw_verdicts(dice: Random, cap: int, say: Callable[..., None]) -> None:
    """Give what leaves a lane without a result, and penalties."""
    if dice.random() < 0.05:
        say("withdrawn", dice.randrange(cap))
    if dice.random() < 0.04:
        say("did_not_start", 0)
    if dice.random() < 0.05:
        say("disqualified", dice.randrange(2 * cap), reason="conduct")
    if dice.random() < 0.15:
        amount = {"reps": dice.randint(1, 4)} if dice.random() < 0.5 else {"ms": dice.choice((500, 1000, 2500))}
        say("penalty_given", dice.randrange(2 * cap), reason="equipment", **amount)
    if dice.random() < 0.06:
        say("points_deducted", cap + 100, points=dice.choice((5, 10, 15)), reason="late")


def draw_papers(dice: Random, cap: int, say: Callable[..., None]) -> None:
    """Give what changes no result: holds, checked sheets, appeals."""
    if dice.random() < 0.05:
        say("hold_placed", cap // 2)
        if dice.random() < 0.5:
            say("hold_released", cap // 2 + 900)
    if dice.random() < 0.3:
        say("sheet_checked", cap + 2000, by="Table")
    if dice.random() < 0.05:
        say("appeal_decided", cap + 6000, by="Head judge", reason="video", upheld=dice.random() < 0.5)


def add_voids(dice: Random, facts: list[Fact]) -> list[Fact]:
    """Strike some facts of lanes, and some of the strikes."""
    added: list[Fact] = []

    def strike(victim: Fact) -> Fact:
        number = len(facts) + len(added) + 1
        void = fact("fact_voided", victim["heat"], victim["at_ms"] + 700, "table-a", voids=victim["id"])
        void |= {"lane": victim["lane"], "sequence": number, "id": f"table-a.{number}"}
        added.append(void)
        return void

    for each in facts:
        if "lane" in each and dice.random() < 0.03:
            void = strike(each)
            if dice.random() < 0.25:
                strike(void)
    return facts + added


def arrived(dice: Random, facts: list[Fact]) -> list[Fact]:
    """Give the lines as they arrived: mostly by the clock, some late, some twice."""
    lines = list(facts)
    if dice.random() < 0.3:
        dice.shuffle(lines)
    lines += [dict(dice.choice(lines)) for _ in range(dice.choice((0, 0, 1, 2))) if lines]
    return lines
