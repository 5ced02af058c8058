"""A theme is taken when it passes the gates of the look, and refused with the pair and the ratio when it does not."""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import combinations, product
from pathlib import Path

import pytest
import wcag_contrast_ratio  # type: ignore[import-untyped]
from hypothesis import given
from hypothesis import strategies as st

from tallywire.core.model.theme import COLOURS
from tallywire.wire.theme_checks import contrast, difference, theme_of, theme_problems
from tallywire.wire.theme_schema import ThemeTable

OVERLAY = Path(__file__).parents[2] / "overlay"
HARBOUR = {"mat": "#0b1622", "mat_raised": "#182635", "tape": "#ffd166"}
"""A theme of our own that passes."""
SVG = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 8 8"><circle cx="4" cy="4" r="3"/></svg>'
PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 20
FILES = {"mark.svg": SVG, "mark.png": PNG, "face.woff2": b"wOF2" + b"\0" * 20, "note.txt": b"hello"}


def problems(**colours: str) -> list[str]:
    """Give what is wrong with a theme, as lines."""
    return [str(problem) for problem in theme_problems(ThemeTable(**colours))]


def attached(name: str) -> bytes:
    """Give a file of the folder."""
    if name not in FILES:
        raise FileNotFoundError(name)
    return FILES[name]


def test_our_own_colours_are_those_of_the_pages() -> None:
    """The roles the gates measure are the ones tokens.css paints with."""
    tokens = (OVERLAY / "shared" / "tokens.css").read_text(encoding="utf-8")
    dark = re.search(r'\[data-theme="dark"\] \{(.*?)}', tokens, re.DOTALL)
    assert dark is not None
    assert dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", dark[1])) == COLOURS


def test_a_sound_theme_is_taken() -> None:
    """Every pair passes; and our own colours, given as a theme, pass too."""
    assert problems(**HARBOUR) == []
    assert problems(**{role.replace("-", "_"): colour for role, colour in COLOURS.items()}) == []


@pytest.mark.parametrize(
    ("colours", "found"),
    [
        ({"chalk_soft": "#767676"}, 'theme.chalk_soft: found chalk-soft "#767676" on mat "#14150f": 4.04 to 1'),
        ({"mat": "#777777"}, 'theme.mat: found chalk "#f3f0e6" on mat "#777777": 3.93 to 1'),
        ({"on_tape": "#ffffff"}, 'theme.on_tape: found on-tape "#ffffff" on tape "#ffc533": 1.58 to 1'),
        ({"wire": "#c0c0c0"}, 'theme.wire: found chalk "#f3f0e6" on wire "#c0c0c0": 1.6'),
    ],
)
def test_a_pale_pair_is_refused_with_its_ratio(colours: Mapping[str, str], found: str) -> None:
    """The line names both roles, both colours and the ratio."""
    assert any(line.startswith(found) for line in problems(**colours)), problems(**colours)


def test_colours_too_near_for_some_vision_are_refused() -> None:
    """A leader's green and a finisher's orange of like lightness: far apart for most, not in deuteranopia."""
    found = [line for line in problems(tape="#7fbf3f", cap="#d0a030") if "ΔE" in line]
    assert any("tape" in line and "cap" in line and "vision" in line for line in found), found


OKABE_ITO = ("#000000", "#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00", "#cc79a7")
"""The colour set of Okabe and Ito, Color Universal Design (2002; typed from memory)."""


@pytest.mark.parametrize(
    ("vision", "closest"), [("normal", 20.76), ("protan", 13.96), ("deutan", 14.77), ("tritan", 10.97)]
)
def test_the_set_of_okabe_and_ito_passes_the_gate(vision: str, closest: float) -> None:
    """Its closest pair in every vision. Source: colorspacious 1.1.2, worked out apart from the program."""
    apart = [difference(one, other, vision) for one, other in combinations(OKABE_ITO, 2)]
    assert round(min(apart), 2) == closest


def test_red_and_green_are_apart_for_most_and_near_in_deuteranopia() -> None:
    """#ff0000 against #00a000: 65.40 and 7.47 ΔE. Source: colorspacious 1.1.2, worked out apart from the program."""
    assert round(difference("#ff0000", "#00a000", "normal"), 2) == 65.40
    assert round(difference("#ff0000", "#00a000", "deutan"), 2) == 7.47


def test_saturated_red_is_refused() -> None:
    """WCAG 2.3.1 counts R/(R+G+B) ≥ 0.8 as saturated red."""
    assert any("WCAG 2.3.1" in line for line in problems(cap="#ff1818"))


@given(st.from_regex(r"#[0-9a-f]{6}", fullmatch=True), st.from_regex(r"#[0-9a-f]{6}", fullmatch=True))
def test_contrast_is_that_of_the_reference_package(one: str, other: str) -> None:
    """Any two colours: the ratio of the wcag-contrast-ratio package (its knee is at 0.03928, which changes < 0.1 %)."""
    parts = [tuple(int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)) for colour in (one, other)]
    assert contrast(one, other) == pytest.approx(wcag_contrast_ratio.rgb(*parts), rel=1e-3)


def test_the_gates_are_those_the_look_is_held_to() -> None:
    """What passes has 4.5 : 1 on both backings and 10 ΔE between any two that mean something, measured once more."""
    colours = {**COLOURS, **{role.replace("_", "-"): colour for role, colour in HARBOUR.items()}}
    text = ("chalk", "chalk-soft", "finish", "cap", "out", "rehearsal")
    assert all(contrast(colours[a], colours[b]) >= 4.5 for a, b in product(text, ("mat", "mat-raised")))
    meaning = ("chalk", "tape", "finish", "cap", "out", "rehearsal", "wire")
    for one, other in combinations(meaning, 2):
        assert all(
            difference(colours[one], colours[other], vision) >= 10
            for vision in ("normal", "protan", "deutan", "tritan")
        )


def test_files_are_taken_for_what_they_are() -> None:
    """A face is WOFF2, a mark SVG or PNG, by their first bytes and not by their names."""
    theme, wrong = theme_of(ThemeTable(face="face.woff2", logo="mark.svg"), attached)
    assert (wrong, theme.face and theme.face.media_type, theme.logo and theme.logo.media_type) == (
        [],
        "font/woff2",
        "image/svg+xml",
    )
    theme, wrong = theme_of(ThemeTable(logo="mark.png"), attached)
    assert (wrong, theme.logo and theme.logo.media_type) == ([], "image/png")


@pytest.mark.parametrize(
    ("fields", "found"),
    [
        ({"face": "note.txt"}, 'theme.face: found "note.txt" (no WOFF2 file)'),
        ({"logo": "note.txt"}, 'theme.logo: found "note.txt" (neither SVG nor PNG)'),
        ({"logo": "gone.svg"}, 'theme.logo: found "gone.svg" (gone.svg)'),
    ],
)
def test_other_files_are_refused(fields: Mapping[str, str], found: str) -> None:
    """Missing, or something else."""
    _, wrong = theme_of(ThemeTable(**fields), attached)
    assert [str(problem).startswith(found) for problem in wrong] == [True]


ROLES = sorted(role.replace("-", "_") for role in COLOURS)


@pytest.mark.parametrize("role", ROLES)
def test_no_colour_hides_the_mark_of_a_rehearsal(role: str) -> None:
    """Where one colour of a theme would make the mark hard to read or to tell apart, the theme is refused."""
    for other in sorted(set(COLOURS.values())):
        colours = {**COLOURS, role.replace("_", "-"): other}
        reads = contrast(colours["on-rehearsal"], colours["rehearsal"]) >= 4.5
        stands_out = all(contrast(colours["rehearsal"], colours[back]) >= 4.5 for back in ("mat", "mat-raised"))
        apart = (
            min(difference(colours["rehearsal"], colours[each], "normal") for each in ("chalk", "tape", "out")) >= 10
        )
        if not (reads and stands_out and apart):
            assert problems(**{role: other}), other


@pytest.mark.parametrize("given", ["tape", "cap"])
def test_the_colour_that_was_given_is_the_one_at_fault(given: str) -> None:
    """Of two that lie too near to each other, one of them ours, the line stands at the other."""
    ours = COLOURS[{"tape": "cap", "cap": "tape"}[given]]
    found = [line for line in problems(**{given: ours}) if "found tape" in line and "cap" in line]
    assert [line.partition(":")[0] for line in found] == [f"theme.{given}"]
