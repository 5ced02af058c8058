"""The fixed part of the random competitions: it agrees, reaches every feature, and catches errors that are planted."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from oracle import counted, outcomes, standing, tables, whole
from oracle.case import FIXED, REPLAY, drawn
from oracle.counted import Fact
from oracle.door import Said, differences, program
from oracle.features import ALL, features
from oracle.whole import worked_out

Case = tuple[dict[str, Any], list[Fact], Said]


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> list[Case]:
    """Give the fixed competitions with what the program says of them."""
    folder = tmp_path_factory.mktemp("oracle")
    return [(*drawn(seed), program(folder, *drawn(seed))) for seed in FIXED]


def no_skip(rows: list[dict[str, Any]], name: str) -> None:
    """Places without a gap after a shared one."""
    keys = sorted({row["key"] for row in rows if row["key"] is not None})
    for row in rows:
        row[name] = 1 + (keys.index(row["key"]) if row["key"] is not None else len(keys))
        row[name + "_shared"] = sum(each["key"] == row["key"] for each in rows) > 1


def first_time(lines: list[dict[str, Any]], piece: int | None, wanted: int) -> int | None:
    """When a count was first reached, whatever was taken away later."""
    counts = [(sum(line["pieces"]) if piece is None else line["pieces"][piece], line["at_ms"]) for line in lines]
    return next((int(at) for reached, at in counts if reached >= wanted), None)


def all_stand(lines: list[Fact]) -> list[Fact]:
    """Facts with those that were voided."""
    return [fact for fact in lines if fact["fact"] != "fact_voided"]


def drop_nothing(_: dict[str, Any], scores: dict[str, dict[str, Any]], __: int) -> None:
    """No score is dropped."""
    for score in scores.values():
        score["dropped"] = False


def with_dropped(original: Callable[..., Any]) -> Callable[..., Any]:
    """Count-back that looks at dropped scores."""

    def key(competition: Any, state: Any, rule: str, row: Any) -> Any:
        return original(competition, state, "count_back_all" if rule == "count_back" else rule, row)

    return key


def with_every_place(_: Callable[..., Any]) -> Callable[..., Any]:
    """Count-back that looks at places without points as well."""
    original = standing.rule_key
    return lambda c, s, rule, row: original(c, s, "count_back" if rule == "count_back_scoring" else rule, row)


def with_every_event(original: Callable[..., Any]) -> Callable[..., Any]:
    """Count-back that passes over no event."""

    def lines(*asked: Any) -> Any:
        return {name: score | {"breaks_ties": True} for name, score in original(*asked).items()}

    return lines


def highest(workout: Any, pieces: list[list[int]]) -> list[int]:
    """A synchro count that goes by the member who is ahead."""
    return [counted.scored(workout, max(members)) for members in pieces]


def unscaled(table: dict[str, Any], place: int, field: int) -> Any:
    """A table that is never spread over a smaller field."""
    return tables.bare_value(table, place, field)


MUTANTS: dict[str, tuple[Any, str, Callable[[Any], Any]]] = {
    "the next place is not skipped": (whole, "place_all", lambda _: no_skip),
    "the tie-break time is not looked at": (outcomes, "tie_break", lambda _: lambda *_: 0),
    "no penalty": (outcomes, "penalties", lambda _: lambda *_: (0, 0)),
    "penalty reps without their count": (outcomes, "penalties", lambda f: lambda *a: (min(1, f(*a)[0]), f(*a)[1])),
    "taps after the end count": (counted, "before_the_end", lambda _: lambda _, facts: facts),
    "voids are passed over": (whole, "standing_facts", lambda _: all_stand),
    "a number once reached stays reached": (outcomes, "passed_for_good", lambda _: first_time),
    "the judge's call is not heard": (outcomes, "called_at", lambda _: lambda *_: None),
    "synchro goes by the fastest member": (counted, "piece_counts", lambda _: highest),
    "a small field is not scaled": (tables, "place_value", lambda _: unscaled),
    "shared places always earn the better": (
        whole,
        "shared_value",
        lambda f: lambda *a: f(*a[:4], "share_better", *a[5:]),
    ),
    "one place further down the table": (tables, "bare_value", lambda f: lambda t, p, n: f(t, min(p + 1, n), n)),
    "no score is dropped": (standing, "mark_dropped", lambda _: drop_nothing),
    "count-back looks at dropped scores": (standing, "rule_key", with_dropped),
    "count-back looks at places without points": (standing, "rule_key", with_every_place),
    "count-back passes over no event": (standing, "score_lines", with_every_event),
    "no deductions": (standing, "deductions_of", lambda _: lambda *_: []),
    "a cut never keeps more or fewer": (standing, "go_on", lambda _: lambda stay, size, _: stay[:size]),
    "nobody is cut": (whole, "cut_after", lambda _: lambda *_: None),
    "the table of the file for all events": (
        whole,
        "table_of",
        lambda _: lambda competition, *_: competition["points"][0],
    ),
    "an attempt too many counts": (outcomes, "lifts", lambda f: lambda w, *a: f(w | {"lifting": {}}, *a)),
    "a window of a ladder never closes": (counted, "ladder_open", lambda _: lambda *_: True),
    "work in a rest counts": (counted, "piece_at", lambda _: counted.begun_piece),
    "a disqualification is no reason": (outcomes, "WITHOUT", lambda f: {k: v for k, v in f.items() if v != "DSQ"}),
}
"""What is wrong, where it is planted, and what stands there instead."""


@pytest.mark.parametrize("wrong", MUTANTS)
def test_a_planted_error_is_caught(wrong: str, said: list[Case], monkeypatch: pytest.MonkeyPatch) -> None:
    """With one rule broken on purpose some competition of the fixed part differs."""
    module, name, made = MUTANTS[wrong]
    monkeypatch.setattr(module, name, made(getattr(module, name)))
    assert any(differences(answer, worked_out(competition, lines)) for competition, lines, answer in said)


def test_the_fixed_part_agrees_in_every_row(said: list[Case]) -> None:
    """Results and standings of the fixed competitions are those of the oracle while it is whole."""
    bad = [
        f"seed {seed}: {line}; again: {REPLAY.format(seed)}"
        for seed, (competition, lines, answer) in zip(FIXED, said, strict=True)
        for line in differences(answer, worked_out(competition, lines))
    ]
    assert not bad, "\n".join(bad[:20])


def test_the_fixed_part_reaches_every_feature(said: list[Case]) -> None:
    """Every format, fact, table, tie rule and cut occurs, and so does every outcome that a rule is about."""
    reached: set[str] = set()
    for competition, lines, _ in said:
        reached |= features(competition, lines, worked_out(competition, lines))
    assert reached >= ALL, f"never reached: {sorted(ALL - reached)}"
