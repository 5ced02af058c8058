"""The gates that a theme must pass: contrast, colours that every vision can tell apart, no saturated red, sound files.

Contrast is WCAG 2.2 (1.4.3: text 4.5 : 1, 1.4.11: parts of a graphic 3 : 1). Colour vision is simulated after Machado,
Oliveira and Fernandes 2009 at full severity and measured in CAM02-UCS, by the colorspacious library.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import combinations, product

from tallywire.core.errors import Problem
from tallywire.core.model.theme import COLOURS, Attachment, Theme
from tallywire.wire.theme_schema import ThemeTable

Colours = Mapping[str, str]
ReadBytes = Callable[[str], bytes]

TEXT = ("chalk", "chalk-soft", "finish", "cap", "out", "rehearsal")
BACKINGS = ("mat", "mat-raised")
MEANING = ("chalk", "tape", "finish", "cap", "out", "rehearsal", "wire")
"""Colours with a meaning: counting, leading, finished, stopped by the cap, out, rehearsal, work still to do."""
TEXT_RATIO = 4.5
LINE_RATIO = 3.0
APART = 10.0
SATURATED_RED = 0.8
VISIONS = {"normal": None, "protan": "protanomaly", "deutan": "deuteranomaly", "tritan": "tritanomaly"}

_TEXT_PAIRS = (*product(TEXT, BACKINGS), ("on-tape", "tape"), ("on-rehearsal", "rehearsal"))
_LINE_PAIRS = (("chalk", "wire"), ("tape", "wire"), ("cap", "hairline"), ("out", "hairline"), ("on-tape", "tape-rest"))
_FACE = (b"wOF2", "font/woff2", 4 * 1024 * 1024)
_LOGO_LIMIT = 1024 * 1024


def theme_problems(table: ThemeTable) -> Iterator[Problem]:
    """Give every pair of colours that misses a gate, with its value.

    Pairs in which both colours are ours are not checked.
    """
    given = table.colours()
    if not given:
        return
    colours = {**COLOURS, **given}
    for red in (role for role, colour in given.items() if _red_share(colour) >= SATURATED_RED):
        share = f"{_red_share(colours[red]):.2f}"
        yield Problem(
            _path(red), f'"{colours[red]}", red in {share} of its light', "less than 0.80 (WCAG 2.3.1: it flashes)"
        )
    yield from _too_pale(colours, given, _TEXT_PAIRS, TEXT_RATIO, "text")
    yield from _too_pale(colours, given, _LINE_PAIRS, LINE_RATIO, "the line of work")
    yield from _too_near(colours, given)


def theme_of(table: ThemeTable, read_bytes: ReadBytes) -> tuple[Theme, list[Problem]]:
    """Give the theme with its files, and the problems of those files."""
    problems: list[Problem] = []
    files: dict[str, Attachment | None] = {}
    for name, media_type_of in (("face", _face_type), ("logo", _logo_type)):
        files[name] = None
        file_name = getattr(table, name)
        if file_name is not None:
            try:
                data = read_bytes(file_name)
                files[name] = Attachment(data, media_type_of(data))
            except (OSError, ValueError) as exc:
                wanted = "a WOFF2 font of at most 4 MB" if name == "face" else "an SVG or PNG picture of at most 1 MB"
                problems.append(Problem(f"theme.{name}", f'"{file_name}" ({exc})', wanted))
    return Theme(colours=table.colours(), face=files["face"], logo=files["logo"]), problems


def contrast(one: str, other: str) -> float:
    """Give the contrast ratio of two colours `#rrggbb` as WCAG 2.2 defines it, 1 to 21."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def difference(one: str, other: str, vision: str) -> float:
    """Give how far two colours are apart, in ΔE of CAM02-UCS, as somebody with this vision sees them."""
    from colorspacious import deltaE  # type: ignore[import-untyped]  # slow to import, and few files have a theme

    return float(deltaE(_seen(one, vision), _seen(other, vision), input_space="sRGB1", uniform_space="CAM02-UCS"))


def _seen(colour: str, vision: str) -> object:
    from colorspacious import cspace_convert

    kind = VISIONS[vision]
    if kind is None:
        return _parts(colour)
    return cspace_convert(_parts(colour), {"name": "sRGB1+CVD", "cvd_type": kind, "severity": 100}, "sRGB1")


def _too_pale(
    colours: Colours, given: Colours, pairs: tuple[tuple[str, str], ...], least: float, what: str
) -> Iterator[Problem]:
    for front, back in pairs:
        ratio = contrast(colours[front], colours[back])
        if ratio < least and (front in given or back in given):
            path = _path(front if front in given else back)
            found = f'{front} "{colours[front]}" on {back} "{colours[back]}": {ratio:.2f} to 1'
            yield Problem(path, found, f"{least} to 1 at least, for {what}")


def _too_near(colours: Colours, given: Colours) -> Iterator[Problem]:
    for one, other in combinations(MEANING, 2):
        if one not in given and other not in given:
            continue
        apart = {vision: difference(colours[one], colours[other], vision) for vision in VISIONS}
        vision = min(apart, key=apart.__getitem__)
        if apart[vision] < APART:
            path = _path(one if one in given else other)
            found = f'{one} "{colours[one]}" and {other} "{colours[other]}": {apart[vision]:.1f} ΔE in {vision} vision'
            yield Problem(path, found, f"{APART:.0f} ΔE at least in every vision")


def _face_type(data: bytes) -> str:
    magic, media_type, limit = _FACE
    if not data.startswith(magic):
        raise ValueError("no WOFF2 file")
    if len(data) > limit:
        raise ValueError(f"{len(data)} bytes")
    return media_type


def _logo_type(data: bytes) -> str:
    if len(data) > _LOGO_LIMIT:
        raise ValueError(f"{len(data)} bytes")
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if b"<svg" in data[:2000]:
        return "image/svg+xml"
    raise ValueError("neither SVG nor PNG")


def _path(role: str) -> str:
    return f"theme.{role.replace('-', '_')}"


def _parts(colour: str) -> tuple[float, float, float]:
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return red, green, blue


def _luminance(colour: str) -> float:
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in _parts(colour)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _red_share(colour: str) -> float:
    parts = _parts(colour)
    return parts[0] / max(sum(parts), 1e-9)
