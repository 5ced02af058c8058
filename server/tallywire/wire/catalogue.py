"""The catalogues: all words that the public and the crew read, one TOML file a language.

A key is the name of its table and its own, such as `public.connecting`. A value is a text with placeholders in braces,
or a table of texts by plural category (CLDR): `{one = "{n} point", other = "{n} points"}`, chosen by `n`. A format
brings its own words in `languages/` of its package: the table `pages` stands under the format's name, `paper` and
`form` behind that table and the name, `cues` beside the others. The table `cues` is for `cue_wording` alone.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, reduce
from html import escape
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any, Literal, get_args
from unicodedata import bidirectional

import orjson
from babel import Locale
from babel.numbers import get_decimal_symbol

from tallywire.core.formats.format import Format
from tallywire.core.formats.registry import formats

Language = Literal["en", "es", "fr", "ar", "ja"]
LANGUAGES: tuple[str, ...] = get_args(Language)
"""Their BCP 47 codes; the first one is what everything else is translated from."""
CATEGORIES = ("zero", "one", "two", "few", "many", "other")
"""The plural categories of CLDR."""
CUES = "cues"
PAPER, FORM = "paper", "form"
OF_SERVER = (PAPER, "story", "moment", "wrong", "problem")
"""Tables that only the server itself uses: they are not in the script that pages load."""
_FOLDER = "languages"
_FIGURES = re.compile(r"[\d:]+\.\d+(?: \w+)?")
_POINT = re.compile(r"(?<=\d)\.(?=\d)")
_PLACE = re.compile(r"\{\{([a-z_.]+)\}\}")
_LANGUAGE, _DIRECTION, _LANGUAGES = "language", "direction", "languages"

Text = str | Mapping[str, str]


@dataclass(frozen=True, slots=True, eq=False)
class Catalogue:
    """The words of one language; `direction` is `ltr` or `rtl`, as HTML has it."""

    language: str
    direction: str
    texts: Mapping[str, Text]
    decimal: str = "."

    def say(self, key: str, **values: str | float) -> str:
        """Give a text with its placeholders filled; `n` chooses the plural form. Raises KeyError for an unknown key."""
        text = self.texts[key]
        if not isinstance(text, str):
            text = text[Locale.parse(self.language).plural_form(float(values["n"]))]
        return text.format_map({name: self._shown(value) for name, value in values.items()})

    def tell(self, key: str, **values: str | float) -> str:
        """Give a text as `say` does, for reports that write times and loads with a point: with the language's mark."""
        figures = {name: each for name, each in values.items() if isinstance(each, str) and _FIGURES.fullmatch(each)}
        return self.say(key, **values | {name: self.figures(each) for name, each in figures.items()})

    def figures(self, text: str) -> str:
        """Write figures, such as 11:42.3, as the language does: its decimal mark, and always from left to right."""
        marked = text if self.decimal == "." else _POINT.sub(self.decimal, text)
        if not marked or not self._leftwards or any(bidirectional(letter) in ("R", "AL") for letter in marked):
            return marked
        return f"\N{LEFT-TO-RIGHT ISOLATE}{marked}\N{POP DIRECTIONAL ISOLATE}"

    def listed(self, texts: Sequence[str]) -> str:
        """Write several texts in a row, with the comma of the language."""
        return reduce(lambda one, other: self.say("paper.pair", one=one, other=other), texts) if texts else ""

    def joined(self, texts: Sequence[str]) -> str:
        """Write several statements in a row, with the semicolon of the language."""
        return reduce(lambda one, other: self.say("paper.also", one=one, other=other), texts) if texts else ""

    def _shown(self, value: str | float) -> str:
        """Set a value apart where words run from right to left (Unicode Standard Annex 9): a name may run otherwise."""
        if not self._leftwards or not isinstance(value, str):
            return str(value)
        # What was put together here runs as the language does, also where nothing but values is in it.
        composed = "\N{FIRST STRONG ISOLATE}" in value
        opening = "\N{RIGHT-TO-LEFT ISOLATE}" if composed else "\N{FIRST STRONG ISOLATE}"
        return f"{opening}{value}\N{POP DIRECTIONAL ISOLATE}"

    @property
    def _leftwards(self) -> bool:
        return self.direction == "rtl"


def known_language(asked: str | None, otherwise: str) -> str:
    """Give the language that is asked for, where it is one of ours."""
    return asked if asked in LANGUAGES else otherwise


def catalogue(language: str) -> Catalogue:
    """Give a language's catalogue with what the formats bring. Raises KeyError for a language that there is not."""
    if language not in LANGUAGES:
        raise KeyError(language)
    return _catalogue(language, formats())


@lru_cache(maxsize=2 * len(LANGUAGES))
def _catalogue(language: str, known: tuple[Format, ...]) -> Catalogue:
    texts = dict(_flat(_without_cues(tables(language))))
    for each in known:
        own = format_tables(each, language)
        texts |= {f"{each.name}.{key}": text for key, text in _flat(own.get("pages", {}))}
        for table in (PAPER, FORM):
            texts |= {f"{table}.{each.name}.{key}": text for key, text in _flat(own.get(table, {}))}
    locale = Locale.parse(language)
    return Catalogue(language, locale.text_direction, texts, get_decimal_symbol(locale, numbering_system="latn"))


def tables(language: str) -> dict[str, Any]:
    """Give the tables of a language's file as they stand."""
    return _read(files("tallywire") / _FOLDER / f"{language}.toml")


def format_tables(own: Format, language: str) -> dict[str, Any]:
    """Give the tables that a format brings for a language; empty where it brings none."""
    path = _path(own, language)
    return _read(path) if path is not None and path.is_file() else {}


def catalogue_texts(language: str) -> list[str]:
    """Give the text of a language's file, and of those that formats bring, as they stand."""
    paths = [files("tallywire") / _FOLDER / f"{language}.toml", *(_path(each, language) for each in formats())]
    return [path.read_text(encoding="utf-8") for path in paths if path is not None and path.is_file()]


def _path(own: Format, language: str) -> Traversable | None:
    package = sys.modules[type(own.counting).__module__].__package__
    return files(package) / _FOLDER / f"{language}.toml" if package else None


def _read(path: Traversable) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def _without_cues(found: Mapping[str, Any]) -> dict[str, Any]:
    return {name: table for name, table in found.items() if name != CUES}


def _flat(found: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Text]]:
    """Give every text under its whole key."""
    for key, value in found.items():
        if isinstance(value, dict) and not is_plural(value):
            yield from _flat(value, f"{before}{key}.")
        else:
            yield before + key, value


def is_plural(value: Mapping[str, Any]) -> bool:
    """Tell whether a table of a catalogue holds the plural forms of one text."""
    return "other" in value and set(value) <= set(CATEGORIES)


def script(words: Catalogue, sections: tuple[str, ...] | None = None) -> str:
    """Give a catalogue as a script for the pages: what pages say, or the tables named."""
    tables_of = {key: key.split(".")[0] for key in words.texts}
    named = sections or tuple({*tables_of.values()} - {*OF_SERVER})
    wanted = {key: text for key, text in words.texts.items() if tables_of[key] in named}
    data = {"language": words.language, "direction": words.direction, "decimal": words.decimal, "texts": wanted}
    return f"globalThis.WORDS = {orjson.dumps(data).decode()};\n"


def format_sections() -> tuple[str, ...]:
    """Name the tables that the formats bring for the pages."""
    return tuple(each.name for each in formats())


def filled(page: str, words: Catalogue, *, offered: tuple[str, ...] = ()) -> str:
    """Give a page's HTML with every {{key}} replaced. `offered` are the languages from which the browser may choose."""
    own = {_LANGUAGE: words.language, _DIRECTION: words.direction, _LANGUAGES: " ".join(offered)}

    def text(found: re.Match[str]) -> str:
        return escape(own[found[1]] if found[1] in own else words.say(found[1]))

    return _PLACE.sub(text, page)
