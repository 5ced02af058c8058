"""The catalogues: every key that is used is there in every language, nothing is there for nothing, and CLDR agrees."""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
from babel import Locale
from babel.numbers import format_decimal

from tallywire.core.formats.registry import formats
from tallywire.shell.read_model import VIEW_NAMES
from tallywire.wire.catalogue import LANGUAGES, Text, catalogue, filled, format_tables, is_plural, script

ROOT = Path(__file__).parents[2]
OVERLAY = ROOT / "overlay"
SERVER = ROOT / "server" / "tallywire"
_SAID = re.compile(r"""\b_?(?:say|tell)\(\s*["']([a-z_.]+)["']""")
_CHOSEN = re.compile(r'\bsay\([^()]*?\? "([a-z_.]+)" : "([a-z_.]+)"')
_MADE = re.compile(r"\bsay\(`([a-z_.]+)\$\{")
_MADE_IN_PYTHON = re.compile(r'\b(?:say|listed)\(f"([a-z_.]+)\{')
_CHOSEN_IN_PYTHON = re.compile(r'\b_?say\(\s*"([a-z_.]+)" if [^()]*? else "([a-z_.]+)"')
_PLACED = re.compile(r"\{\{([a-z_.]+)\}\}")
_PLACEHOLDER = re.compile(r"\{(\w+)\}")
_OWN = {"language", "direction", "languages"}
OTHERS = LANGUAGES[1:]


def used(folders: tuple[Path, ...] = (OVERLAY, SERVER)) -> tuple[set[str], set[str]]:
    """Give the keys that pages and server name, and the beginnings of those that they put together."""
    names, beginnings = {"shared.ordinal"}, set[str]()
    for path in (each for folder in folders for each in folder.rglob("*") if each.suffix in (".js", ".html", ".py")):
        text = path.read_text(encoding="utf-8")
        names |= set(_SAID.findall(text)) | {each for pair in _CHOSEN.findall(text) for each in pair}
        beginnings |= set(_MADE.findall(text)) | set(_MADE_IN_PYTHON.findall(text))
        if path.suffix == ".py":
            names |= {each for pair in _CHOSEN_IN_PYTHON.findall(text) for each in pair}
        names |= set(_PLACED.findall(text)) - _OWN if path.suffix == ".html" else set()
    return names, beginnings


def forms(text: Text) -> Iterator[str]:
    """Give the one text of a key, or its plural forms."""
    yield from (text,) if isinstance(text, str) else text.values()


def placeholders(text: Text) -> set[str]:
    """Give what a text uses; the number that chooses a form may be left out of it."""
    return set(_PLACEHOLDER.findall(" ".join(forms(text)))) - {"n"}


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_key_that_is_used_is_missing(language: str) -> None:
    """Each key in a page, in a module or in the server stands in the catalogue of every language."""
    names, beginnings = used()
    known = set(catalogue(language).texts)
    assert sorted(names - known) == []
    assert [each for each in beginnings if not any(key.startswith(each) for key in known)] == []


def test_no_key_is_there_for_nothing() -> None:
    """What nobody says any more leaves the catalogues."""
    names, beginnings = used()
    known = set(catalogue("en").texts)
    assert sorted(key for key in known - names if not key.startswith(tuple(beginnings))) == []


@pytest.mark.parametrize("language", OTHERS)
def test_languages_have_the_same_keys_and_placeholders(language: str) -> None:
    """A translation has what the English has: the same keys, the same values in each, the same plurals."""
    own, english = catalogue(language).texts, catalogue("en").texts
    assert set(own) ^ set(english) == set()
    assert {key for key in english if placeholders(own[key]) != placeholders(english[key])} == set()
    assert {key for key in english if isinstance(own[key], str) != isinstance(english[key], str)} == set()


def test_every_view_has_a_name() -> None:
    """The page Server names each view of the wire."""
    assert {key for key in catalogue("en").texts if key.startswith("inside.view.")} == {
        f"inside.view.{view}" for view in VIEW_NAMES
    }


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_text_says_something(language: str) -> None:
    """No text is empty or stands between spaces."""
    found = catalogue(language).texts.items()
    assert [key for key, text in found for form in forms(text) if not form or form != form.strip()] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_plural_forms_are_those_of_cldr(language: str) -> None:
    """Each text with plural forms has the language's categories, all and no other. Source: CLDR, through Babel."""
    locale = Locale.parse(language)
    cardinal, ordinal = {*locale.plural_form.tags, "other"}, {*locale.ordinal_form.tags, "other"}
    for key, text in catalogue(language).texts.items():
        if not isinstance(text, str):
            assert set(text) == (ordinal if key.endswith(".ordinal") else cardinal), key


def test_pages_and_server_agree_with_cldr() -> None:
    """Plural categories, places and decimal marks of ECMA-402 are those of Babel, for 0 to 200.

    Places are compared as they are written: a new CLDR may split a category in two that are written alike.
    """
    numbers = list(range(201))
    asked = [{"language": each, "ordinal": catalogue(each).texts["shared.ordinal"]} for each in LANGUAGES]
    code = """
      const [languages, numbers] = JSON.parse(process.argv[1]);
      console.log(JSON.stringify(languages.map((each) => {
        const [one, other] = ["cardinal", "ordinal"].map((type) => new Intl.PluralRules(each.language, { type }));
        const decimal = new Intl.NumberFormat(`${each.language}-u-nu-latn`).format(1.5);
        const place = (n) => each.ordinal[other.select(n)] ?? each.ordinal.other;
        return [numbers.map((n) => one.select(n)), numbers.map(place), decimal];
      })));
    """
    said = subprocess.run(
        ["node", "--eval", code, json.dumps([asked, numbers])], capture_output=True, text=True, check=True
    )
    for language, found in zip(LANGUAGES, json.loads(said.stdout), strict=True):
        locale = Locale.parse(language)
        places = catalogue(language).texts["shared.ordinal"]
        assert not isinstance(places, str)
        ours = [[locale.plural_form(n) for n in numbers], [places[locale.ordinal_form(n)] for n in numbers]]
        assert found == [*ours, format_decimal(1.5, locale=language, numbering_system="latn")], language


@pytest.mark.parametrize(
    ("language", "expected"),
    [
        ("en", ["0 points", "1 point", "2 points", "11 points"]),
        ("fr", ["0 point", "1 point", "2 points", "11 points"]),
        ("ar", ["0 نقطة", "نقطة واحدة", "نقطتان", "11 نقطة"]),
        ("ja", ["0ポイント", "1ポイント", "2ポイント", "11ポイント"]),
    ],
)
def test_a_count_takes_the_form_of_its_number(language: str, expected: list[str]) -> None:
    """None is singular in French; Arabic has a dual; Japanese has one form."""
    assert [catalogue(language).say("shared.points", n=n) for n in (0, 1, 2, 11)] == expected


def test_the_languages_are_those_there_are() -> None:
    """The languages that can be asked for are the catalogues there are, and those that the competition maker offers."""
    assert {path.stem for path in (SERVER / "languages").glob("*.toml")} == set(LANGUAGES)
    offered = (OVERLAY / "make" / "form.js").read_text(encoding="utf-8")
    assert f"const LANGUAGES = {json.dumps(LANGUAGES)};" in offered


def test_a_format_brings_its_words_in_every_language() -> None:
    """A format that has words for the pages has them in each language."""
    for each in formats():
        tables = [format_tables(each, language).get("pages", {}) for language in LANGUAGES]
        assert len({frozenset(table) for table in tables}) == 1, each.name


def test_a_page_is_filled_and_nothing_in_it_is_markup() -> None:
    """A text goes into the page as text: what looks like markup is escaped."""
    words = catalogue("ar")
    page = '<html lang="{{language}}" dir="{{direction}}"><p>{{shared.connecting}}</p>'
    assert filled(page, words).startswith('<html lang="ar" dir="rtl"><p>جارٍ')
    assert "'" not in filled("{{shared.store_full}}", catalogue("en"))


def test_a_page_can_ask_for_some_tables_only() -> None:
    """The script of the words holds the tables that are named, and no other."""
    texts: Mapping[str, Text] = json.loads(script(catalogue("fr"), ("public",))[len("globalThis.WORDS = ") : -2])[
        "texts"
    ]
    assert {key.split(".")[0] for key in texts} == {"public"}


def test_a_missing_key_is_found(tmp_path: Path) -> None:
    """The search finds a key in a module, one of two that are chosen, one in a page, and one put together."""
    (tmp_path / "a.js").write_text('say("x.one"); say(open ? "x.two" : "x.three"); say(`y.${kind}`);')
    (tmp_path / "b.html").write_text("<p>{{x.four}}</p>")
    names, beginnings = used((tmp_path,))
    assert names == {"shared.ordinal", "x.one", "x.two", "x.three", "x.four"}
    assert beginnings == {"y."}


def test_a_table_of_texts_is_no_plural() -> None:
    """Only a table with the form `other` and nothing but categories is one text."""
    assert is_plural({"one": "a", "other": "b"})
    assert not is_plural({"one": "a", "two": "b"})
