"""The wording that a format adds: the facet that a format fills when its cues need lines of their own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from tallywire.core.cues.wording import LOAD_UNITS, TEMPLATES, allowed_forms
from tallywire.core.formats.format import Format
from tallywire.core.formats.registry import formats

_UNITS = ("reps", "points", "seconds", "lanes", *LOAD_UNITS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Phrase:
    """A part of a line with placeholders of its own, written as {…:form}; of several, the one that uses the most values
    is taken.

    `fields` are the placeholders it may use, with their sorts, and `needed` those it must.
    """

    form: str
    fields: Mapping[str, str]
    needed: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FormatWords:
    """What a format adds to the wording: nothing, unless it says so.

    `lines` are its templates, with the placeholders each may use and their sorts. `units` are needed in [units],
    `phrases` in [words]; `choices` are tables of words, with the keys they need: a sort of the same name says one of
    them. The texts stand in `languages/` of the format's package, a file a language.
    """

    lines: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    units: tuple[str, ...] = ()
    phrases: Mapping[str, Phrase] = field(default_factory=dict)
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Vocabulary:
    """All that a wording must hold, for every format there is."""

    lines: Mapping[str, Mapping[str, str]]
    units: tuple[str, ...]
    phrases: Mapping[str, Phrase]
    choices: Mapping[str, tuple[str, ...]]

    def forms(self, what: str, units: Mapping[str, object]) -> tuple[str, ...]:
        """Give the forms that a placeholder of this sort can be given."""
        own = {phrase.form for phrase in self.phrases.values()} | {*self.choices}
        return (what,) if what in own else allowed_forms(what, units)


def vocabulary() -> Vocabulary:
    """Give what a wording must hold."""
    return _vocabulary(formats())


@lru_cache(maxsize=4)
def _vocabulary(known: tuple[Format, ...]) -> Vocabulary:
    own = [each.facet(FormatWords) for each in known]
    return Vocabulary(
        lines={**TEMPLATES, **{key: fields for each in own for key, fields in each.lines.items()}},
        units=(*_UNITS, *(unit for each in own for unit in each.units)),
        phrases={key: phrase for each in own for key, phrase in each.phrases.items()},
        choices={table: keys for each in own for table, keys in each.choices.items()},
    )
