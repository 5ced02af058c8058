"""Loads: kilograms and pounds, exactly. Loads are integers in thousandths of their unit."""

from __future__ import annotations

from fractions import Fraction

KG_A_LB = Fraction("0.45359237")
"""Kilograms in a pound, exactly (NIST Special Publication 811)."""


def load_text(load_milli: int, unit: str) -> str:
    """Write a load: 102500 kg → "102.5 kg"."""
    whole, part = divmod(load_milli, 1000)
    decimals = f".{part:03d}".rstrip("0").rstrip(".")
    return f"{whole}{decimals} {unit}"
