"""The catalogue of on-air views and the files of the page are one list."""

from __future__ import annotations

from pathlib import Path

from tallywire.core.show.catalogue import CATALOGUE

VIEWS = Path(__file__).parents[2] / "overlay" / "air" / "views"


def test_every_view_of_the_catalogue_is_a_file_and_the_other_way_round() -> None:
    """What the desk offers can be shown, and what can be shown is offered."""
    assert {path.stem for path in VIEWS.glob("*.js")} == set(CATALOGUE)
