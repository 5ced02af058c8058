"""Nothing in the pages is unused: no module, no export, no class, no custom property."""

from __future__ import annotations

from pathlib import Path

from overlay.unused import Pages, read_pages, unused_classes, unused_exports, unused_properties

ROOT = Path(__file__).parents[2]
TESTS = Path(__file__).parent

_NUMBER = "a test counts with the number and must not write it a second time"
_STEP = "one step of a pure computation, which is tested for itself"
TEST_ONLY: dict[str, str] = {
    "air/needs.js: placesText": _STEP,
    "air/ranking.js: MOST_ON_PAGE": _NUMBER,
    "air/ranking.js: PAGE_MS": _NUMBER,
    "air/ranking.js: createPages": _STEP,
    "air/who.js: FOLLOW_MS": _NUMBER,
    "air/who.js: lanesOf": _STEP,
    "board/rotation.js: LEAST_STAY_S": _NUMBER,
    "board/rotation.js: STAY_S": _NUMBER,
    "board/rotation.js: screensFor": _STEP,
    "desk/automatic.js: CARD_MS": _NUMBER,
    "desk/automatic.js: RUN_IN_MS": _NUMBER,
    "desk/automatic.js: STALE_MS": _NUMBER,
    "desk/automatic.js: YIELD_MS": _NUMBER,
    "desk/items.js: freshItem": _STEP,
    "desk/lines.js: DIGITS_MS": _NUMBER,
    "formats/registry.js: FORMATS": "a test registers a format of its own in it",
    "gaps/words.js: meaningOf": _STEP,
    "gaps/words.js: roundTimes": _STEP,
    "practice/marking.js: LATE_MS": _NUMBER,
    "practice/motion.js: SHORT": _NUMBER,
    "public/feed.js: LONGEST_MS": _NUMBER,
    "public/feed.js: RESTING_MS": _NUMBER,
    "public/feed.js: RUNNING_MS": _NUMBER,
    "public/feed.js: waitMs": _STEP,
    "shared/calm.js: CALM_MS": _NUMBER,
    "shared/clock.js: offsetMs": "a formula of RFC 5905, which is tested with its numbers",
    "shared/clock.js: roundTripMs": "a formula of RFC 5905, which is tested with its numbers",
    "shared/delay.js: CLOCK_SET_MS": _NUMBER,
    "shared/delay.js: FASTEST": _NUMBER,
    "shared/delay.js: LEAD_MS": _NUMBER,
    "shared/delay.js: SLOWEST": _NUMBER,
    "shared/delay.js: ShownTime": _STEP,
    "shared/delay.js: Waiting": _STEP,
    "shared/socket.js: backOffMs": _STEP,
    "shared/socket.js: wireUrl": _STEP,
    "table/recall.js: touchesIn": _STEP,
    "table/keyboard.js: countDraft": _STEP,
    "table/keyboard.js: keysOf": _STEP,
    "table/rows.js: stallMs": _STEP,
}
"""Exports that only tests import, each with its reason."""


def test_no_export_is_unused() -> None:
    """Every module runs on a page, and every export is imported by another module or is in the list above."""
    assert list(unused_exports(read_pages(ROOT / "overlay"), test_only=frozenset(TEST_ONLY))) == []


def test_the_list_of_exports_for_tests_is_true() -> None:
    """Each of them has a reason, no page imports it, and a test in this folder does."""
    found = set(unused_exports(read_pages(ROOT / "overlay")))
    tests = "\n".join(path.read_text(encoding="utf-8") for path in TESTS.glob("*.js"))
    assert sorted(set(TEST_ONLY) - found) == []
    assert [name for name, why in TEST_ONLY.items() if not why or name.split(": ")[1] not in tests] == []


def test_no_class_is_unused() -> None:
    """Every class in a style sheet is on some page that has the sheet."""
    assert list(unused_classes(read_pages(ROOT / "overlay"))) == []


def test_no_custom_property_is_unused() -> None:
    """Every custom property that has a value is read, and every one that is read has a value."""
    assert list(unused_properties(read_pages(ROOT / "overlay"))) == []


def planted(folder: Path) -> Pages:
    """A page with one of everything that is unused, beside as much that is used."""
    (folder / "one" / "views").mkdir(parents=True)
    files = {
        "one/index.html": '<link rel="stylesheet" href="one.css" /><script src="one.js"></script><p class="worn"></p>',
        "one/one.css": ".worn { --read: 1; --lost: 2; top: var(--read); left: var(--never) } .bare:hover { top: 0 }",
        "one/one.js": 'import { used } from "./two.js";\nused("made");\n(await import(`./views/${used}.js`)).view;',
        "one/two.js": "/** .bare */\nexport function used() {}\nexport const forgotten = 1;\nexport class Tested {}",
        "one/three.js": "export const alone = 1;",
        "one/views/four.js": "export const view = 1;\nexport const other = 2;",
        "two/index.html": '<p class="bare"></p>',
    }
    (folder / "two").mkdir()
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return read_pages(folder)


def test_an_unused_export_is_found(tmp_path: Path) -> None:
    """A module no page runs, and an export nobody imports; not what a page loads by name, nor what is for tests."""
    found = list(unused_exports(planted(tmp_path), test_only=frozenset({"one/two.js: Tested"})))
    assert found == ["one/three.js: no page runs it", "one/two.js: forgotten", "one/views/four.js: other"]


def test_an_unused_class_is_found(tmp_path: Path) -> None:
    """A class that stands only in a comment, or on a page without the sheet, is unused."""
    assert list(unused_classes(planted(tmp_path))) == ["one/one.css: .bare"]


def test_an_unused_property_is_found(tmp_path: Path) -> None:
    """One that nothing reads, and one that has no value anywhere."""
    found = list(unused_properties(planted(tmp_path)))
    assert found == ["--lost: given but never read", "--never: read but never given"]
