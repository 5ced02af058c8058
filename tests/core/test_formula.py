"""Points by formula: what is worked out, and what is never even looked at."""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tallywire.core.ranking.formula import MAX_TERMS, Formula

expressions = st.recursive(
    st.one_of(st.integers(0, 99).map(str), st.sampled_from(["0.5", "2.25", "place", "field"])),
    lambda inner: st.one_of(
        st.tuples(inner, st.sampled_from(["+", "-", "*"]), inner).map(lambda parts: f"({' '.join(parts)})"),
        st.tuples(st.sampled_from(["min", "max"]), inner, inner).map(
            lambda parts: f"{parts[0]}({parts[1]}, {parts[2]})"
        ),
        st.tuples(st.sampled_from(["floor", "ceil"]), inner).map(lambda parts: f"{parts[0]}({parts[1]})"),
        inner.map(lambda part: f"(-{part})"),
    ),
    max_leaves=8,
).filter(lambda text: len(text) <= 200)


@given(expressions, st.integers(1, 100), st.integers(1, 100))
def test_a_formula_is_what_the_language_itself_makes_of_it(text: str, place: int, field: int) -> None:
    """Random expressions have the value Python gives them, exactly. Source: the Python interpreter."""
    names = {"place": place, "field": field, "min": min, "max": max, "floor": floor, "ceil": ceil}
    assert Formula(text).value(place=place, field=field) == eval(text, {"__builtins__": {}}, names)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("100 - 5 * (place - 1)", 90),
        (" 100/place ", Fraction(100, 3)),
        ("0.1 + 0.2", Fraction(3, 10)),
        ("round(2.5)", 3),
        ("round(-2.5)", -2),
        ("7 // 2 + 7 % 2", 4),
        ("-7 // 2", -4),
        ("+place ** 2", 9),
        ("2 ** -1", Fraction(1, 2)),
        ("max(place, 10 - field, 1)", 3),
        ("0", 0),
    ],
)
def test_formulas_by_hand(text: str, value: int | Fraction) -> None:
    """Third place in a field of twelve, exactly; round takes halves up."""
    assert Formula(text).value(place=3, field=12) == value


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", 'found "", expected an expression'),
        ("100 -", 'found "100 -", expected an expression'),
        ("1 2", 'found "1 2", expected an expression'),
        ("(" * 150, "expected an expression"),
        ("places", 'found "places" in the formula "places", expected a number, place, field'),
        ("__import__(1)", 'found "__import__"'),
        ("place.real", 'found "."'),
        ("lambda: 1", 'found "lambda"'),
        ("1 if place else 2", 'found "if"'),
        ("'a' * 9", """found "'\""""),
        ("[1]", r'found "\["'),
        ("1e9", 'found "e9"'),
        ("1_000", 'found "_000"'),
        ("0x10", 'found "x10"'),
        ("place # x", 'found "#"'),
        ("p\u217cace", 'found "p"'),
        ("ｐlace", 'found "ｐ"'),
        ("min", 'found "min"'),
        ("place(2)", r'found "place\(2\)"'),
        ("(min)(2)(3)", r"found"),
        ("min()", r'found "min\(\)"'),
        ("floor(1, 2)", r'found "floor\(1, 2\)"'),
        ("min(*place)", r'found "\*place"'),
        ("min(**place)", r"found"),
        ("(1, 2)", r"found"),
        ("1" * 201, "found a formula of 201 characters, expected at most 200"),
        ("+".join(["1"] * 40), f"found a formula of 79 terms, expected at most {MAX_TERMS}"),
    ],
)
def test_what_is_not_a_formula_is_refused(text: str, found: str) -> None:
    """Everything but the small grammar is refused when the file is read, and the error names what was found."""
    with pytest.raises(ValueError, match=found):
        Formula(text)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("100 / (place - 1)", 'formula "100 / \\(place - 1\\)", place 1 in a field of 5: found a division by zero'),
        ("1 // (field - 5)", "found a division by zero"),
        ("1 % (field - 5)", "found a division by zero"),
        ("0 ** -1", "found a division by zero"),
        ("2 ** 0.5", "found an exponent of 1/2, expected a number"),
        ("1 ** 5000", "found an exponent of 5000"),
        ("9 ** 999", "found a number too large to be points"),
        ("(9 ** 500) * (9 ** 500)", "found a number too large to be points"),
    ],
)
def test_a_formula_without_a_value_says_where(text: str, found: str) -> None:
    """Where a formula has no value, or one beyond any points, the error names the place and the field."""
    with pytest.raises(ValueError, match=found):
        Formula(text).value(place=1, field=5)


@pytest.mark.parametrize(
    ("fits", "is_too_much"),
    [
        ("1 ** 1000", "1 ** 1001"),
        ("1 ** -1000", "1 ** -1001"),
        ("15 ** 512", "15 ** 513"),
        ("2 ** 1000 * 2 ** 1000 * 2 ** 47", "2 ** 1000 * 2 ** 1000 * 2 ** 48"),
        ("1 / (2 ** 1000 * 2 ** 1000 * 2 ** 47)", "1 / (2 ** 1000 * 2 ** 1000 * 2 ** 48)"),
    ],
)
def test_the_largest_that_is_worked_out_is_where_the_bounds_are(fits: str, is_too_much: str) -> None:
    """Exponents go to 1,000, and numbers to 2,048 binary digits: so many has 2 ** 2047, and 15 has four."""
    assert Formula(fits).value(place=1, field=5) == eval(
        fits.replace("1 /", "Fraction(1) /").replace("1 ** -", "1 ** ")
    )
    with pytest.raises(ValueError, match="found"):
        Formula(is_too_much).value(place=1, field=5)


@pytest.mark.parametrize(
    ("fits", "is_too_much"),
    [
        ("min(" + ", ".join("9" * 10) + ")", "min(" + ", ".join("9" * 11) + ")"),
        ("max(" + ", ".join("9" * 10) + ")", "max(" + ", ".join("9" * 11) + ")"),
        ("+".join(["1"] * 30) + "", "+".join(["1"] * 31)),
        ("1" * 200, "1" * 201),
    ],
)
def test_the_longest_formula_is_where_the_bounds_are(fits: str, is_too_much: str) -> None:
    """Ten values for min and max, 60 terms (numbers and signs between them), 200 characters."""
    assert Formula(fits).value(place=1, field=5) > 0
    with pytest.raises(ValueError, match="found"):
        Formula(is_too_much)
