"""Cues in words: lines with placeholders, filled in the way the wording says. The words come from outside."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from string import Formatter
from typing import Any

from tallywire.core.cues.cue import Cue, Value
from tallywire.core.model.timetext import clock_text

NAME, COUNT, POINTS, TIME, WORD, LOAD = "name", "count", "points", "time", "word", "load"
"""The sorts of value a placeholder may stand for. A format adds sorts of its own: see `FormatWords`."""

TEMPLATES: Mapping[str, Mapping[str, str]] = {
    "clinched": {"name": NAME, "points": POINTS},
    "clinched_level": {"name": NAME, "other": NAME},
    "finish_first": {"name": NAME, "time_ms": TIME, "place": COUNT, "behind_ms": TIME},
    "finish_plain": {"name": NAME, "time_ms": TIME, "place": COUNT},
    "finish_timed": {"name": NAME, "other": NAME, "reps": COUNT, "ahead_by": COUNT},
    "finish_timed_level": {"name": NAME, "other": NAME, "reps": COUNT},
    "finish_tie_break": {"name": NAME, "other": NAME, "time_ms": TIME},
    "finish_shared": {"name": NAME, "count": COUNT},
    "finish_won": {"name": NAME},
    "finish_level": {"name": NAME, "other": NAME, "time_ms": TIME, "place": COUNT, "behind_ms": TIME},
    "finish_close": {"name": NAME, "ahead": NAME, "time_ms": TIME, "place": COUNT, "behind_ms": TIME},
    "finish": {"name": NAME, "ahead": NAME, "time_ms": TIME, "place": COUNT, "behind_ms": TIME},
    "overall_taken": {"name": NAME, "before": NAME, "second": NAME, "points": POINTS},
    "overall_taken_level": {"name": NAME, "before": NAME, "second": NAME},
    "overall_traded": {"name": NAME, "before": NAME, "second": NAME, "points": POINTS},
    "lead_taken": {"name": NAME, "before": NAME, "reps": COUNT, "round": COUNT},
    "lead_traded": {"name": NAME, "before": NAME, "reps": COUNT, "round": COUNT},
    "withdrawal": {"name": NAME, "round": COUNT, "reps": COUNT},
    "withdrawal_plain": {"name": NAME},
    "time_up": {"name": NAME, "capped": COUNT, "to_go": COUNT},
    "catching": {
        "name": NAME,
        "ahead": NAME,
        "place_ahead": COUNT,
        "gap_ms": TIME,
        "was_ms": TIME,
        "catch_ms": TIME,
    },
    "catching_leader": {
        "name": NAME,
        "ahead": NAME,
        "place_ahead": COUNT,
        "gap_ms": TIME,
        "was_ms": TIME,
        "catch_ms": TIME,
    },
    "cap_danger_forecast": {"name": NAME, "over_ms": TIME, "to_go": COUNT, "left_ms": TIME},
    "cap_danger": {"name": NAME, "over_ms": TIME, "to_go": COUNT, "left_ms": TIME},
    "no_reps": {"name": NAME, "count": COUNT, "within_ms": TIME, "movement": WORD},
    "round_first": {"name": NAME, "round": COUNT, "reps": COUNT, "time_ms": TIME},
    "unbroken": {
        "name": NAME,
        "amount": COUNT,
        "movement": WORD,
        "round": COUNT,
        "through": COUNT,
        "whole": COUNT,
    },
}
"""Every line that the cues of all formats need, with the placeholders it may use and the sort of each."""

TIME_FORMS = ("clock", "tenths", "exact", "seconds", "about")
COUNT_FORMS = ("", "ordinal", "number")
LOAD_UNITS = ("kg", "lb")


def english_plural(count: float | Decimal) -> str:
    """Give the plural category of English."""
    return "one" if count == 1 else "other"


def one_form(_count: float | Decimal) -> str:
    """Give the category of a language with one form for all."""
    return "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """The words of one language, of the BCP 47 code `language`.

    `units` maps a unit's name to its forms by plural category, each with {n}.

    `plural` and `ordinal_plural` give the category of a number; `ordinal` are the forms of the places that `ordinals`
    has no word for.

    `phrases` are the parts of lines that formats have, by the form that asks for them: the values each uses, and its
    text; the one that uses the most values comes first. `choices` are words by table and key.
    """

    lines: Mapping[str, str]
    units: Mapping[str, Mapping[str, str]]
    ordinals: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()
    language: str = "en"
    decimal: str = "."
    in_division: str = "{division}: {line}"
    phrases: Mapping[str, Sequence[tuple[tuple[str, ...], str]]] = field(default_factory=dict)
    choices: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    ordinal: Mapping[str, str] = field(default_factory=lambda: {"other": "{n}."})
    plural: Callable[[float | Decimal], str] = english_plural
    ordinal_plural: Callable[[float | Decimal], str] = one_form


def say(cue: Cue, wording: Wording) -> str:
    """Put a cue into words."""
    line = _Filler(wording, cue.values).vformat(wording.lines[cue.template], (), cue.values)
    if "division" in cue.values:
        line = wording.in_division.format(division=cue.values["division"], line=line)
    return line[:1].upper() + line[1:]


def script_lines(script: Sequence[tuple[int, Cue]], wording: Wording) -> list[str]:
    """Write a script of cues as lines: the heat clock, the weight, the words."""
    return [f"{clock_text(at_ms, decimals=0):>6}  {cue.weight:>3}  {say(cue, wording)}" for at_ms, cue in script]


def allowed_forms(what: str, units: Mapping[str, object]) -> tuple[str, ...]:
    """The forms that a placeholder of this sort may take: {gap_ms:seconds}, {place:ordinal}, {reps:reps}."""
    if what == TIME:
        return TIME_FORMS
    if what in (LOAD, POINTS):
        return (what,)
    return (*COUNT_FORMS, *units) if what == COUNT else ("", "lower") if what == WORD else ("",)


class _Filler(Formatter):
    """Fills placeholders with the forms of the wording instead of Python's format language."""

    def __init__(self, wording: Wording, values: Mapping[str, Value]) -> None:
        self.wording = wording
        self.values = values

    def format_field(self, value: Any, format_spec: str) -> str:
        shown = value
        if isinstance(shown, str):
            return self._text(shown, format_spec)
        if format_spec in TIME_FORMS:
            return self._time(shown, format_spec)
        if format_spec in self.wording.phrases:
            return self._phrase(format_spec)
        if format_spec == LOAD:
            return self._load(shown)
        if format_spec in self.wording.units:
            return self._unit(format_spec, shown, self._number(shown))
        return self._ordinal(shown) if format_spec == "ordinal" else self._number(shown)

    def _text(self, text: str, form: str) -> str:
        if form in self.wording.choices:
            return self.wording.choices[form][text]
        return text.lower() if form == "lower" else text

    def _time(self, ms: int, form: str) -> str:
        if form == "about":
            step = 5 if ms < 60_000 else 15
            seconds = max(step, step * round(ms / 1000 / step))
            return self._unit("seconds", seconds, str(seconds))
        if form == "seconds":
            return self._seconds(ms)
        decimals = {"clock": 0, "tenths": 1, "exact": 3}[form]
        return clock_text(ms, decimals=decimals).replace(".", self.wording.decimal)

    def _seconds(self, ms: int) -> str:
        """Cut a time off: to tenths below ten seconds, to thousandths below a tenth, so that no gap reads as zero."""
        tenths, mark = ms // 100, self.wording.decimal
        if tenths == 0 < ms:
            return self._unit("seconds", Decimal(ms) / 1000, f"0{mark}{ms:03d}")
        if tenths >= 100 or tenths % 10 == 0:
            return self._unit("seconds", ms // 1000, self._number(ms // 1000))
        return self._unit("seconds", Decimal(tenths) / 10, f"{tenths // 10}{mark}{tenths % 10}")

    def _phrase(self, form: str) -> str:
        fitting = (text for used, text in self.wording.phrases[form] if self.values.keys() >= {*used})
        return self.vformat(next(fitting), (), self.values)

    def _load(self, milli: int) -> str:
        whole, part = divmod(milli, 1000)
        shown = f"{whole}{self.wording.decimal}{f'{part:03d}'.rstrip('0')}" if part else self._number(whole)
        return self._unit(str(self.values["unit"]), Decimal(milli) / 1000 if part else whole, shown)

    def _unit(self, unit: str, count: float | Decimal, shown: str) -> str:
        return self.wording.units[unit][self.wording.plural(count)].format(n=shown)

    def _number(self, count: float) -> str:
        if not isinstance(count, int):
            return str(count).replace(".", self.wording.decimal)
        return self.wording.numbers[count] if 0 <= count < len(self.wording.numbers) else str(count)

    def _ordinal(self, count: int) -> str:
        found = self.wording.ordinals
        if 1 <= count <= len(found):
            return found[count - 1]
        return self.wording.ordinal[self.wording.ordinal_plural(count)].format(n=count)
