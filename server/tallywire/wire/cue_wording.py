"""The wording of cues: a TOML file a crew can translate, checked to the last placeholder."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from importlib.resources import files
from string import Formatter
from typing import Any

from tallywire.core.cues.format_words import FormatWords, Vocabulary, vocabulary
from tallywire.core.cues.wording import Wording, allowed_forms
from tallywire.core.errors import BadFile, Problem
from tallywire.core.formats.registry import formats
from tallywire.wire.problems import shown

_DEFAULT = "cue_wording.toml"
_OF_A_FORMAT = "wording.toml"
_IN_DIVISION = "in_division"
_HEADER = re.compile(r"\[(\w+)\]")


def default_wording() -> Wording:
    """Give the wording that comes with the program, in English."""
    return read_wording(_DEFAULT, wording_text())


def wording_text() -> str:
    """Give the text of that wording as one file to translate: the common lines, and those that formats add."""
    own = [each.facet(FormatWords).where for each in formats()]
    resources = [("tallywire.wire", _DEFAULT), *((where, _OF_A_FORMAT) for where in own if where)]
    texts = [files(where).joinpath(name).read_text(encoding="utf-8") for where, name in resources]
    head, tables = _sections(texts[0])
    for _, more in map(_sections, texts[1:]):
        for table, lines in more.items():
            tables.setdefault(table, []).extend(lines)
    last = tables.pop("lines")
    return "\n".join([*head, *(_section(*each) for each in [*tables.items(), ("lines", last)])])


def _sections(text: str) -> tuple[list[str], dict[str, list[str]]]:
    """The lines before the first table, and those of each table."""
    head: list[str] = []
    tables: dict[str, list[str]] = {}
    lines = head
    for line in text.splitlines():
        found = _HEADER.fullmatch(line)
        if found:
            lines = tables.setdefault(found[1], [])
        elif line or lines is head:
            lines.append(line)
    return head, tables


def _section(table: str, lines: list[str]) -> str:
    return "\n".join([f"[{table}]", *lines, ""])


def read_wording(name: str, text: str) -> Wording:
    """Read a wording. Raises BadFile with everything that is wrong with it."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        raise BadFile(name, [Problem("the file", str(exc), "TOML")]) from exc
    known = vocabulary()
    wanted = ("words", "units", *known.choices, "lines")
    tables = {table: data.get(table, {}) for table in wanted}
    problems = [Problem(key, "an unknown table", ", ".join(wanted)) for key in data if key not in wanted]
    wrong = [table for table in wanted if not isinstance(tables[table], dict)]
    if wrong:
        raise BadFile(name, [*problems, *(Problem(each, shown(tables[each]), "a table") for each in wrong)])
    problems += [*_word_problems(tables, known), *_unit_problems(tables["units"], known)]
    problems += [*_choice_problems(tables, known), *_line_problems(tables, known)]
    if problems:
        raise BadFile(name, problems)
    return _wording(tables, known)


def _wording(tables: Mapping[str, Mapping[str, Any]], known: Vocabulary) -> Wording:
    words = tables["words"]
    phrases: dict[str, list[tuple[tuple[str, ...], str]]] = {}
    for key, phrase in sorted(known.phrases.items(), key=lambda each: -len(each[1].fields)):
        phrases.setdefault(phrase.form, []).append((tuple(phrase.fields), words[key]))
    return Wording(
        lines=dict(tables["lines"]),
        units={unit: (forms[0], forms[1]) for unit, forms in tables["units"].items()},
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


def _unit_problems(units: Mapping[str, Any], known: Vocabulary) -> list[Problem]:
    problems = _keys("units", units, known.units, more=True)
    for unit, forms in units.items():
        if not _is_texts(forms) or len(forms) != 2:
            problems.append(Problem(f"units.{unit}", shown(forms), 'two forms, for one and for more: ["{n} rep", …]'))
            continue
        for form in forms:
            problems += _placeholder_problems(f"units.{unit}", form, {"n": ("",)}, ())
    return problems


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
