"""The look keeps to the outside rules: contrast, colour vision, letter height. docs/look.md has the reasons."""

from __future__ import annotations

import itertools
import re
from math import ceil, hypot, pi
from pathlib import Path

import pytest
import wcag_contrast_ratio  # type: ignore[import-untyped]

from tallywire.wire.theme_checks import contrast, difference

OVERLAY = Path(__file__).parents[2] / "overlay"
LOOK = Path(__file__).parents[2] / "docs" / "look.md"
TOKENS = (OVERLAY / "shared" / "tokens.css").read_text(encoding="utf-8")


THEMES = ("dark", "daylight")
MEANING = ("chalk", "tape", "finish", "cap", "out", "rehearsal", "wire")
"""Colours that tell something: counting, leading, finished, stopped by the cap, out, rehearsal, work still to do."""
TEXT = ("chalk", "chalk-soft", "finish", "cap", "out", "rehearsal")
PAGES = ("air", "board", "call", "commentary", "gaps")
SHEETS = ["shared/parts.css"] + [
    str(path.relative_to(OVERLAY)) for page in PAGES for path in sorted((OVERLAY / page).rglob("*.css"))
]
"""The sheets of what leaves the house, and of what is watched for hours."""
CAP_HEIGHT = 0.702
"""The height of a capital in the size of the shipped face: docs/look.md gives it, and tests/pages measure it."""
VISION = ("normal", "protan", "deutan", "tritan")


def colours(theme: str) -> dict[str, str]:
    """Give the colours of a theme in tokens.css, by role."""
    blocks: list[str] = re.findall(rf'\[data-theme="{theme}"\] {{(.*?)}}', TOKENS, re.DOTALL)
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", "".join(blocks)))


def number(name: str) -> float:
    """Give a token that is a bare number."""
    found = re.search(rf"--{name}: ([\d.]+);", TOKENS)
    assert found, f"no --{name} in tokens.css"
    return float(found[1])


def parts(colour: str) -> tuple[float, float, float]:
    """Split #rrggbb into its parts, 0 to 1."""
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return red, green, blue


def letter_height_mm(distance_m: float, arc_minutes: float) -> float:
    """Height of a letter that is seen under so many minutes of arc (ISO 9241-303)."""
    return 2 * pi * distance_m * 1000 * arc_minutes / 21600


def line_mm(inches: float, lines: int = 1080) -> float:
    """How high one line of a 16:9 screen is."""
    return inches * 25.4 * 9 / hypot(16, 9) / lines


# The methods themselves, before what they say of us.


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#ffffff", "#000000", 21),
        ("#767676", "#ffffff", 4.5422),
        ("#777777", "#ffffff", 4.4781),
        ("#595959", "#ffffff", 7.0047),
        ("#949494", "#ffffff", 3.0335),
    ],
)
def test_contrast_is_wcag_contrast(one: str, other: str, ratio: float) -> None:
    """Our contrast gives the ratios known for WCAG 2.2, and those of the wcag-contrast-ratio package."""
    assert contrast(one, other) == pytest.approx(ratio, abs=5e-5)
    assert contrast(one, other) == pytest.approx(wcag_contrast_ratio.rgb(parts(one), parts(other)), rel=1e-3)


def test_letter_height_is_iso_9241_303() -> None:
    """16 minutes of arc at 10 m are 46.54 mm; at 5 m from a 55-inch screen of 1080 lines, 37 lines."""
    assert round(letter_height_mm(10, 16), 2) == 46.54
    assert ceil(letter_height_mm(5, 16) / line_mm(55)) == 37


# What they say of us.


def test_the_height_of_a_capital_is_the_one_written_down() -> None:
    """The rules of legibility count with the height that docs/look.md gives."""
    assert f"capitals are {CAP_HEIGHT} and small letters" in LOOK.read_text(encoding="utf-8")


@pytest.mark.parametrize("theme", THEMES)
def test_text_stands_out_from_its_own_backing(theme: str) -> None:
    """Every colour that text is set in has 4.5:1 (WCAG 1.4.3) on the mat and on the raised mat."""
    known = colours(theme)
    for text, back in itertools.product(TEXT, ("mat", "mat-raised")):
        assert contrast(known[text], known[back]) >= 4.5, (text, back)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("plate", ["tape", "rehearsal"])
def test_text_on_a_plate_stands_out(theme: str, plate: str) -> None:
    """Text on tape and on the rehearsal colour has 4.5:1 too."""
    known = colours(theme)
    assert contrast(known[f"on-{plate}"], known[plate]) >= 4.5


@pytest.mark.parametrize(
    ("theme", "done", "rest"),
    [
        ("dark", "chalk", "wire"),
        ("dark", "tape", "wire"),
        ("dark", "cap", "hairline"),
        ("dark", "out", "hairline"),
        ("daylight", "chalk", "wire"),
        ("daylight", "cap", "hairline"),
        ("daylight", "out", "hairline"),
    ],
)
def test_work_done_stands_out_from_work_to_do(theme: str, done: str, rest: str) -> None:
    """The two parts of a line have 3:1 (WCAG 1.4.11). By day the leader's line is chalk, not tape."""
    known = colours(theme)
    assert contrast(known[done], known[rest]) >= 3


def test_the_line_stands_out_on_tape() -> None:
    """On the leader's turned-over row the two parts of the line have 3:1 as well."""
    known = colours("dark")
    assert contrast(known["on-tape"], known["tape-rest"]) >= 3


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize("theme", THEMES)
def test_colours_that_carry_meaning_are_told_apart(theme: str, vision: str) -> None:
    """Any two of them are at least 10 apart for every vision."""
    known = colours(theme)
    near = {
        (one, other): round(difference(known[one], known[other], vision), 1)
        for one, other in itertools.combinations(MEANING, 2)
        if difference(known[one], known[other], vision) < 10
    }
    assert near == {}


def test_no_colour_is_a_saturated_red() -> None:
    """WCAG 2.3.1 counts R/(R+G+B) ≥ 0.8 as saturated red, which flashes soonest; we have none."""
    for theme in THEMES:
        for role, colour in colours(theme).items():
            assert parts(colour)[0] / max(sum(parts(colour)), 1e-9) < 0.8, role


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_picture_has_no_colours_of_its_own(sheet: str) -> None:
    """Colours come from tokens.css alone, where the gates above see them."""
    text = (OVERLAY / sheet).read_text(encoding="utf-8")
    assert re.findall(r"#[0-9a-fA-F]{3,8}\b|\b(?:rgb|hsl|oklch|lab)a?\(", text) == []


@pytest.mark.parametrize("sheet", SHEETS)
def test_nothing_loops_or_blinks(sheet: str) -> None:
    """What moves, moves once: no keyframes but `come`, from nothing to all. Its time is a token that can be nothing."""
    text = (OVERLAY / sheet).read_text(encoding="utf-8")
    assert set(re.findall(r"@keyframes (\S+) \{\s*from \{\s*opacity: 0;\s*\}\s*\}", text)) <= {"come"}
    assert len(re.findall("@keyframes", text)) == len(re.findall("@keyframes come ", text))
    assert set(re.findall(r"animation[a-z-]*: ([^;]+);", text)) <= {"come var(--fade) var(--ease)"}
    assert re.findall(r"\d+m?s\b", text) == []


def test_no_sheet_is_long() -> None:
    """A style sheet has 300 lines at most, so that a reader sees one concept in each."""
    lines = {path: path.read_text(encoding="utf-8").count("\n") for path in OVERLAY.rglob("*.css")}
    assert lines
    assert {path.name: count for path, count in lines.items() if count > 300} == {}


def test_the_board_is_legible_from_the_last_row() -> None:
    """Capitals of the board's data are 37 lines high at least, of its notes at least half of that."""
    needed = letter_height_mm(5, 16) / line_mm(55)
    assert number("board-data") * CAP_HEIGHT >= needed
    assert number("board-note") * CAP_HEIGHT >= needed / 2


def test_the_air_is_legible_in_a_living_room() -> None:
    """Capitals of data on the air are under 16 minutes of arc from 3 m on a 55-inch screen; of labels from 2.25 m."""
    assert number("air-data") * CAP_HEIGHT * line_mm(55) >= letter_height_mm(3, 16)
    assert number("air-label") * CAP_HEIGHT * line_mm(55) >= letter_height_mm(2.25, 16)


def test_the_look_is_written_down_as_it_is() -> None:
    """docs/look.md names every colour of both themes with the value it has."""
    text = LOOK.read_text(encoding="utf-8")
    for theme in THEMES:
        for role, colour in colours(theme).items():
            assert re.search(rf"`{role}`.*{colour}", text), f"{theme}: {role} {colour}"


def test_the_tables_of_the_look_are_computed() -> None:
    """The ratios and differences printed in docs/look.md are those of the tokens."""
    text = LOOK.read_text(encoding="utf-8")
    for theme in THEMES:
        assert contrast_table(theme) in text, theme
        assert difference_table(theme) in text, theme


def contrast_table(theme: str) -> str:
    """Give the table of contrast ratios as docs/look.md prints it."""
    known = colours(theme)
    rows = [
        f"| `{role}` | {known[role]} | {contrast(known[role], known['mat']):.2f} "
        f"| {contrast(known[role], known['mat-raised']):.2f} |"
        for role in (*TEXT, "tape", "wire")
    ]
    return "\n".join(rows)


def difference_table(theme: str) -> str:
    """Give the table of the nearest colour to each colour, by vision, as docs/look.md prints it."""
    known = colours(theme)
    rows = []
    for role in MEANING:
        cells = []
        for vision in VISION:
            value, other = min((difference(known[role], known[o], vision), o) for o in MEANING if o != role)
            cells.append(f"{value:.1f} {other}")
        rows.append(f"| `{role}` | {' | '.join(cells)} |")
    return "\n".join(rows)
