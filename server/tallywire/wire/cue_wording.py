"""The wording of cues: a TOML file a crew can translate, checked to the last placeholder."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache, partial
from string import Formatter
from typing import Any

from babel import Locale
from babel.plural import PluralRule

from tallywire.core.cues.format_words import Vocabulary, vocabulary
from tallywire.core.cues.wording import Wording, allowed_forms, one_form
from tallywire.core.errors import BadFile, Problem
from tallywire.core.formats.format import Format
from tallywire.core.formats.registry import formats
from tallywire.wire.catalogue import LANGUAGES, catalogue_texts
from tallywire.wire.problems import shown

_IN_DIVISION = "in_division"
_OF_CUES = re.compile(r"\[cues\.(\w+)\]|\[.*\]")
_FORMS = "ordinal"
_HEAD = """\
# What the commentator's cues say. Change what `tallywire wording` prints, and load that instead.
#
# A line may use the placeholders that stand in the line here, in any order, or leave some out. What is behind the colon
# says how a value is written:
#
#   names and movements    {name}  {movement:lower}
#   counts                 {reps}  {place:ordinal}  {round:number}  or with a unit from below: {reps:reps}
#   times, which end _ms   {time_ms:clock} 11:42   {time_ms:tenths} 11:42.3   {time_ms:exact} 11:42.318
#                          {gap_ms:seconds} 2.4 seconds, 14 seconds (cut)   {catch_ms:about} 40 seconds (to five)
#   loads                  {load_milli:load}, in the unit of the workout: 96 kilograms
#
# The program refuses a file with a missing line, an unknown placeholder or a form that does not fit, and says which.

# Whose plural rules hold: a language's BCP 47 code.
language = "%s"
"""


@lru_cache(maxsize=2 * len(LANGUAGES))
def _shipped(language: str, _known: tuple[Format, ...]) -> Wording:
    return read_wording(f"{language}.toml", wording_text(language))


def default_wording(language: str = LANGUAGES[0]) -> Wording:
    """Give the wording that comes with the program, in a language."""
    return _shipped(language, formats())


def wording_text(language: str = LANGUAGES[0]) -> str:
    """Give the text of that wording as one file to change: the common lines, and those that formats add."""
    tables: dict[str, list[str]] = {}
    for text in catalogue_texts(language):
        for table, lines in _sections(text).items():
            tables.setdefault(table, []).extend(lines)
    last = tables.pop("lines")
    head = _HEAD.replace("%s", language)
    return "\n".join([head, *(_section(*each) for each in [*tables.items(), ("lines", last)])])


def _sections(text: str) -> dict[str, list[str]]:
    """The lines of each table of cues."""
    tables: dict[str, list[str]] = {}
    lines = list[str]()
    for line in text.splitlines():
        found = _OF_CUES.fullmatch(line)
        if found:
            lines = tables.setdefault(found[1], []) if found[1] else []
        elif line:
            lines.append(line)
    return tables


def _section(table: str, lines: list[str]) -> str:
    return "\n".join([f"[{table}]", *lines, ""])


def read_wording(name: str, text: str) -> Wording:
    """Read a wording. Raises BadFile with everything that is wrong with it."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        raise BadFile(name, [Problem("the file", str(exc), "TOML")]) from exc
    known = vocabulary()
    language = data.pop("language", LANGUAGES[0])
    if language not in LANGUAGES:
        raise BadFile(name, [Problem("language", shown(language), f"one of {', '.join(LANGUAGES)}")])
    wanted = ("words", _FORMS, "units", *known.choices, "lines")
    tables = {table: data.get(table, {}) for table in wanted}
    problems = [Problem(key, "an unknown table", ", ".join(wanted)) for key in data if key not in wanted]
    wrong = [table for table in wanted if not isinstance(tables[table], dict)]
    if wrong:
        raise BadFile(name, [*problems, *(Problem(each, shown(tables[each]), "a table") for each in wrong)])
    rules = Locale.parse(language)
    problems += [
        *_word_problems(tables, known),
        *_unit_problems(tables["units"], known, _categories(rules.plural_form)),
    ]
    problems += (
        _form_problems_of(f"{_FORMS}", tables[_FORMS], _categories(rules.ordinal_form)) if tables[_FORMS] else []
    )
    problems += [*_choice_problems(tables, known), *_line_problems(tables, known)]
    if problems:
        raise BadFile(name, problems)
    return replace(
        _wording(tables, known),
        language=language,
        plural=partial(_plural, language),
        ordinal_plural=_ordinals(tables, language),
    )


def _wording(tables: Mapping[str, Mapping[str, Any]], known: Vocabulary) -> Wording:
    words = tables["words"]
    phrases: dict[str, list[tuple[tuple[str, ...], str]]] = {}
    for key, phrase in sorted(known.phrases.items(), key=lambda each: -len(each[1].fields)):
        phrases.setdefault(phrase.form, []).append((tuple(phrase.fields), words[key]))
    return Wording(
        lines=dict(tables["lines"]),
        units={unit: _by_category(forms) for unit, forms in tables["units"].items()},
        ordinal=tables[_FORMS] or {"other": "{n}."},
        ordinals=tuple(words["ordinals"]),
        numbers=tuple(words["numbers"]),
        decimal=words["decimal"],
        in_division=words[_IN_DIVISION],
        phrases=phrases,
        choices={table: dict(tables[table]) for table in known.choices},
    )


def _keys(table: str, found: Mapping[str, Any], wanted: tuple[str, ...], *, more: bool) -> list[Problem]:
    missing = [Problem(f"{table}.{key}", "nothing", "this key") for key in wanted if key not in found]
    unknown = [] if more else [key for key in found if key not in wanted]
    return missing + [Problem(f"{table}.{key}", "an unknown key", f"only {', '.join(wanted)}") for key in unknown]


def _word_problems(tables: Mapping[str, Mapping[str, Any]], known: Vocabulary) -> Iterator[Problem]:
    """Check single words, lists of words, and words with placeholders: the division's line and the formats' phrases."""
    words = tables["words"]
    yield from _keys("words", words, ("decimal", "numbers", "ordinals", _IN_DIVISION, *known.phrases), more=False)
    for key in ("decimal", _IN_DIVISION, *known.phrases):
        if not isinstance(words.get(key, ""), str):
            yield Problem(f"words.{key}", shown(words[key]), "text in quotes")
    for key in ("numbers", "ordinals"):
        if not _is_texts(words.get(key, [])):
            yield Problem(f"words.{key}", shown(words[key]), "a list of words")
    if isinstance(words.get(_IN_DIVISION), str):
        forms: dict[str, tuple[str, ...]] = {"division": ("",), "line": ("",)}
        yield from _placeholder_problems(f"words.{_IN_DIVISION}", words[_IN_DIVISION], forms, ("line",))
    for key, phrase in known.phrases.items():
        if isinstance(words.get(key), str):
            forms = {name: allowed_forms(what, tables["units"]) for name, what in phrase.fields.items()}
            yield from _placeholder_problems(f"words.{key}", words[key], forms, phrase.needed)


def _choice_problems(tables: Mapping[str, Mapping[str, Any]], known: Vocabulary) -> Iterator[Problem]:
    for table, keys in known.choices.items():
        found = tables[table]
        yield from _keys(table, found, keys, more=False)
        for key in keys:
            if not isinstance(found.get(key, ""), str):
                yield Problem(f"{table}.{key}", shown(found[key]), "text in quotes")


def _by_category(forms: Any) -> Mapping[str, str]:
    """A unit's forms by plural category; a list has the one and the other form."""
    return forms if isinstance(forms, dict) else {"one": forms[0], "other": forms[1]}


def _categories(rule: PluralRule) -> tuple[str, ...]:
    return (*sorted(rule.tags), "other")


def _ordinals(tables: Mapping[str, Mapping[str, Any]], language: str) -> Callable[[float | Decimal], str]:
    return partial(_ordinal, language) if tables[_FORMS] else one_form


# The rules themselves cannot be sent to another process, which the wording is.
def _plural(language: str, count: float | Decimal) -> str:
    return Locale.parse(language).plural_form(count)


def _ordinal(language: str, count: float | Decimal) -> str:
    return Locale.parse(language).ordinal_form(count)


def _unit_problems(units: Mapping[str, Any], known: Vocabulary, categories: tuple[str, ...]) -> list[Problem]:
    problems = _keys("units", units, known.units, more=True)
    for unit, forms in units.items():
        if isinstance(forms, dict):
            problems += _form_problems_of(f"units.{unit}", forms, categories)
        elif not _is_texts(forms) or len(forms) != 2 or set(categories) != {"one", "other"}:
            wanted = ", ".join(f'{each} = "{{n}} …"' for each in categories)
            problems.append(Problem(f"units.{unit}", shown(forms), f"its forms by plural category: {{{wanted}}}"))
        else:
            problems += _form_problems_of(f"units.{unit}", _by_category(forms), categories)
    return problems


def _form_problems_of(path: str, forms: Mapping[str, Any], categories: tuple[str, ...]) -> list[Problem]:
    """Check texts by plural category: all that the language has, and no other (CLDR)."""
    if set(forms) != set(categories) or not _is_texts(list(forms.values())):
        return [Problem(path, ", ".join(forms), f"a text for each of {', '.join(categories)}")]
    return [each for form in forms.values() for each in _placeholder_problems(path, form, {"n": ("",)}, ())]


def _line_problems(tables: Mapping[str, Mapping[str, Any]], known: Vocabulary) -> list[Problem]:
    lines = tables["lines"]
    problems = _keys("lines", lines, tuple(known.lines), more=False)
    for key, fields in known.lines.items():
        line = lines.get(key)
        if line is None:
            continue
        if not isinstance(line, str) or not line.strip():
            problems.append(Problem(f"lines.{key}", shown(line), "a line of text in quotes"))
            continue
        forms = {name: known.forms(what, tables["units"]) for name, what in fields.items()}
        problems += _placeholder_problems(f"lines.{key}", line, forms, ("name",))
    return problems


def _placeholder_problems(
    path: str, text: str, forms: Mapping[str, tuple[str, ...]], needed: tuple[str, ...]
) -> list[Problem]:
    """Check that every placeholder is known and written in a form that fits it, and that none needed is missing."""
    try:
        used = [
            (name, spec or "", bool(turned)) for _, name, spec, turned in Formatter().parse(text) if name is not None
        ]
    except ValueError as exc:
        return [Problem(path, shown(text), f"placeholders such as {_placeholder(next(iter(forms)))} ({exc})")]
    problems = [
        problem for name, spec, turned in used for problem in _form_problems(path, name, spec, forms, turned=turned)
    ]
    given = {name for name, _, _ in used}
    return problems + [Problem(path, shown(text), f"{{{name}}} in it") for name in needed if name not in given]


def _form_problems(
    path: str, name: str, spec: str, forms: Mapping[str, tuple[str, ...]], *, turned: bool
) -> Iterator[Problem]:
    """Check one placeholder; `turned` is True where it asks for a conversion, which is never allowed."""
    if name not in forms or turned:
        yield Problem(path, _placeholder(name), "one of " + ", ".join(map(_placeholder, forms)))
    elif spec not in forms[name]:
        fits = ", ".join(_placeholder(name, form) for form in forms[name])
        yield Problem(path, _placeholder(name, spec), fits)


def _placeholder(name: str, form: str = "") -> str:
    return f"{{{name}:{form}}}" if form else f"{{{name}}}"


def _is_texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(each, str) for each in value)
