"""Points by formula: a small arithmetic expression in `place` and `field`, read once and worked out exactly.

What may stand in it: whole and decimal numbers, `place`, `field`, `+ - * / // % **`, brackets and the functions
`min`, `max`, `floor`, `ceil` and `round` (to a whole number, halves up). Nothing else is ever evaluated.
"""

from __future__ import annotations

import ast
import operator
import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import ceil, floor

MAX_LENGTH = 200
MAX_TERMS = 60
MAX_EXPONENT = 1_000
MAX_BITS = 2_048

_Names = dict[str, Fraction]
_Term = Callable[[_Names], Fraction]

_TOKEN = re.compile(r"\d+(?:\.\d+)?|[A-Za-z_]\w*|\*\*|//|[-+*/%(),]|\s+", re.ASCII)
_NAMES = ("place", "field")
_EXPECTED = "a number, place, field, + - * / // % **, brackets, min, max, floor, ceil or round"


@dataclass(frozen=True, slots=True)
class Formula:
    """An expression such as `"100 - 5 * (place - 1)"`. Raises ValueError, naming what was found, if it is not one."""

    text: str

    def __post_init__(self) -> None:
        _compiled(self.text)

    def value(self, *, place: int, field: int) -> Fraction:
        """Work the formula out for a place in a field of so many entries. Raises ValueError where it has no value."""
        return _value(self.text, place, field)


@lru_cache(maxsize=8192)
def _value(text: str, place: int, field: int) -> Fraction:
    try:
        return _compiled(text)({"place": Fraction(place), "field": Fraction(field)})
    except (ZeroDivisionError, _NoValue) as exc:
        raise ValueError(
            f'formula "{text}", place {place} in a field of {field}: '
            f"found {exc if isinstance(exc, _NoValue) else 'a division by zero'}, expected a number"
        ) from exc


class _NoValue(Exception):
    """A part of the formula has no value, or one too large to be points."""


@lru_cache(maxsize=256)
def _compiled(text: str) -> _Term:
    _check_words(text)
    try:
        tree = ast.parse(text.strip(), mode="eval").body
    except (SyntaxError, MemoryError, RecursionError) as exc:
        raise ValueError(f'found "{text}", expected an expression such as "100 - 5 * (place - 1)"') from exc
    terms = sum(isinstance(node, ast.expr) for node in ast.walk(tree))
    if terms > MAX_TERMS:
        raise ValueError(f"found a formula of {terms} terms, expected at most {MAX_TERMS}")
    return _term(tree, text.strip())


def _check_words(text: str) -> None:
    """Refuse, before any parser sees the text, every character and word that the grammar does not know."""
    if len(text) > MAX_LENGTH:
        raise ValueError(f"found a formula of {len(text)} characters, expected at most {MAX_LENGTH}")
    at = 0
    while at < len(text):
        token = _TOKEN.match(text, at)
        word = token.group() if token else text[at]
        if token is None or (word[0].isidentifier() and word not in (*_NAMES, *_FUNCTIONS)):
            raise ValueError(f'found "{word}" in the formula "{text}", expected {_EXPECTED}')
        at = token.end()


def _term(node: ast.expr, text: str) -> _Term:
    reader = _READERS.get(type(node))
    found = reader(node, text) if reader else None
    if found is None:
        part = ast.get_source_segment(text, node)
        raise ValueError(f'found "{part}" in the formula "{text}", expected {_EXPECTED}')
    return found


def _constant(node: ast.Constant, text: str) -> _Term:
    value = Fraction(ast.get_source_segment(text, node) or "0")
    return lambda _names: value


def _name(node: ast.Name, _text: str) -> _Term | None:
    name = node.id
    return (lambda names: names[name]) if name in _NAMES else None


def _sign(node: ast.UnaryOp, text: str) -> _Term | None:
    change = _SIGNS.get(type(node.op))
    inner = _term(node.operand, text)
    return (lambda names: change(inner(names))) if change else None


def _binary(node: ast.BinOp, text: str) -> _Term | None:
    combine = _OPERATORS.get(type(node.op))
    left, right = _term(node.left, text), _term(node.right, text)
    return (lambda names: _bounded(combine(left(names), right(names)))) if combine else None


def _call(node: ast.Call, text: str) -> _Term | None:
    found = _FUNCTIONS.get(node.func.id) if isinstance(node.func, ast.Name) else None
    if found is None or node.keywords:
        return None
    function, most = found
    if not 1 <= len(node.args) <= most:
        return None
    inner = [_term(each, text) for each in node.args]
    return lambda names: Fraction(function(*(each(names) for each in inner)))


def _power(base: Fraction, exponent: Fraction) -> Fraction:
    if exponent.denominator != 1 or abs(exponent) > MAX_EXPONENT:
        raise _NoValue(f"an exponent of {exponent}")
    if _bits(base) * abs(exponent) > MAX_BITS:
        raise _NoValue("a number too large to be points")
    return base ** int(exponent)


def _bounded(value: Fraction) -> Fraction:
    if _bits(value) > MAX_BITS:
        raise _NoValue("a number too large to be points")
    return value


def _bits(value: Fraction) -> int:
    return max(value.numerator.bit_length(), value.denominator.bit_length())


def _floored(left: Fraction, right: Fraction) -> Fraction:
    return Fraction(left // right)


def _round(value: Fraction) -> int:
    return floor(value + Fraction(1, 2))


_FUNCTIONS: dict[str, tuple[Callable[..., Fraction | int], int]] = {
    "min": (min, 10),
    "max": (max, 10),
    "floor": (floor, 1),
    "ceil": (ceil, 1),
    "round": (_round, 1),
}
_SIGNS: dict[type[ast.unaryop], Callable[[Fraction], Fraction]] = {ast.UAdd: operator.pos, ast.USub: operator.neg}
_OPERATORS: dict[type[ast.operator], Callable[[Fraction, Fraction], Fraction]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.FloorDiv: _floored,
    ast.Mod: operator.mod,
    ast.Pow: _power,
}
_READERS: dict[type[ast.expr], Callable[..., _Term | None]] = {
    ast.Constant: _constant,
    ast.Name: _name,
    ast.UnaryOp: _sign,
    ast.BinOp: _binary,
    ast.Call: _call,
}
