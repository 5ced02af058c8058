"""The wording of cues: a TOML file a crew can translate, checked to the last placeholder."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from importlib.resources import files
from string import Formatter
from typing import Any

from tallywire.core.cues.wording import COUNT_FORMS, LOAD_UNITS, TEMPLATES, Wording, allowed_forms
from tallywire.core.errors import BadFile, Problem
from tallywire.formats.intervals.cues import COUNTING
from tallywire.wire.problems import shown

_DEFAULT = "cue_wording.toml"
_UNITS = ("reps", "points", "seconds", "lanes", "bars", "lifts", "attempts", *LOAD_UNITS)
_TABLES = ("words", "units", "pieces", "lines")
_PATTERNS: Mapping[str, tuple[Mapping[str, tuple[str, ...]], tuple[str, ...]]] = {
    "in_division": ({"division": ("",), "line": ("",)}, ("line",)),
    "bar": ({"bar": COUNT_FORMS}, ("bar",)),
    "bar_load": ({"bar": COUNT_FORMS, "load": ("",)}, ("load",)),
}
"""Words with placeholders: those they may use, with their forms, and those they must."""
_WORDS = ("decimal", "numbers", "ordinals", *_PATTERNS)


def default_wording() -> Wording:
    """Give the wording that comes with the program, in English."""
    text = files("tallywire.wire").joinpath(_DEFAULT).read_text(encoding="utf-8")
    return read_wording(_DEFAULT, text)


def read_wording(name: str, text: str) -> Wording:
    """Read a wording. Raises BadFile with everything that is wrong with it."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        raise BadFile(name, [Problem("the file", str(exc), "TOML")]) from exc
    tables = {table: data.get(table, {}) for table in _TABLES}
    problems = [Problem(key, "an unknown table", ", ".join(_TABLES)) for key in data if key not in _TABLES]
    wrong = [table for table in _TABLES if not isinstance(tables[table], dict)]
    if wrong:
        raise BadFile(name, [*problems, *(Problem(each, shown(tables[each]), "a table") for each in wrong)])
    problems += _word_problems(tables["words"]) + _unit_problems(tables["units"]) + _piece_problems(tables["pieces"])
    problems += _line_problems(tables)
    if problems:
        raise BadFile(name, problems)
    return _wording(tables)


def _wording(tables: Mapping[str, Mapping[str, Any]]) -> Wording:
    words = tables["words"]
    return Wording(
        lines=dict(tables["lines"]),
        units={unit: (forms[0], forms[1]) for unit, forms in tables["units"].items()},
        ordinals=tuple(words["ordinals"]),
        numbers=tuple(words["numbers"]),
        decimal=words["decimal"],
        in_division=words["in_division"],
        bar=words["bar"],
        bar_load=words["bar_load"],
        pieces=dict(tables["pieces"]),
    )


def _keys(table: str, found: Mapping[str, Any], wanted: tuple[str, ...], *, more: bool) -> list[Problem]:
    missing = [Problem(f"{table}.{key}", "nothing", "this key") for key in wanted if key not in found]
    unknown = [] if more else [key for key in found if key not in wanted]
    return missing + [Problem(f"{table}.{key}", "an unknown key", f"only {', '.join(wanted)}") for key in unknown]


def _word_problems(words: Mapping[str, Any]) -> list[Problem]:
    problems = _keys("words", words, _WORDS, more=False)
    for key in ("decimal", *_PATTERNS):
        if not isinstance(words.get(key, ""), str):
            problems.append(Problem(f"words.{key}", shown(words[key]), "text in quotes"))
    for key in ("numbers", "ordinals"):
        if not _is_texts(words.get(key, [])):
            problems.append(Problem(f"words.{key}", shown(words[key]), "a list of words"))
    for key, (forms, needed) in _PATTERNS.items():
        if isinstance(words.get(key), str):
            problems += _placeholder_problems(f"words.{key}", words[key], forms, needed)
    return problems


def _piece_problems(pieces: Mapping[str, Any]) -> list[Problem]:
    texts = [key for key in COUNTING if key in pieces and not isinstance(pieces[key], str)]
    return _keys("pieces", pieces, COUNTING, more=False) + [
        Problem(f"pieces.{key}", shown(pieces[key]), "text in quotes") for key in texts
    ]


def _unit_problems(units: Mapping[str, Any]) -> list[Problem]:
    problems = _keys("units", units, _UNITS, more=True)
    for unit, forms in units.items():
        if not _is_texts(forms) or len(forms) != 2:
            problems.append(Problem(f"units.{unit}", shown(forms), 'two forms, for one and for more: ["{n} rep", …]'))
            continue
        for form in forms:
            problems += _placeholder_problems(f"units.{unit}", form, {"n": ("",)}, ())
    return problems


def _line_problems(tables: Mapping[str, Mapping[str, Any]]) -> list[Problem]:
    lines = tables["lines"]
    problems = _keys("lines", lines, tuple(TEMPLATES), more=False)
    for key, fields in TEMPLATES.items():
        line = lines.get(key)
        if line is None:
            continue
        if not isinstance(line, str) or not line.strip():
            problems.append(Problem(f"lines.{key}", shown(line), "a line of text in quotes"))
            continue
        forms = {name: allowed_forms(what, tables["units"]) for name, what in fields.items()}
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
    """Check one placeholder; `turned` is True where it asks for a conversion, and none is allowed."""
    if name not in forms or turned:
        yield Problem(path, _placeholder(name), "one of " + ", ".join(map(_placeholder, forms)))
    elif spec not in forms[name]:
        fits = ", ".join(_placeholder(name, form) for form in forms[name])
        yield Problem(path, _placeholder(name, spec), fits)


def _placeholder(name: str, form: str = "") -> str:
    return f"{{{name}:{form}}}" if form else f"{{{name}}}"


def _is_texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(each, str) for each in value)
