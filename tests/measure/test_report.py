"""A run of measures as text, as data, and in a page."""

from __future__ import annotations

import pytest

from tallywire.core.errors import TallywireError
from tallywire.measure.figures import Figure, FigureTable, Goal
from tallywire.measure.machine import Machine
from tallywire.measure.report import Taken, as_data, as_markdown, as_text, written_into

MACHINE = Machine(cores=2, load=0.1, system="Linux x86_64", python="3.11.7")
FIGURE = Figure.of([1.0, 3.0, 2.0])
TABLE = FigureTable(
    title="A tap",
    columns=("lanes", "ms"),
    rows=((10, FIGURE), (20, "–")),
    goals=(Goal(says="at ten", found=FIGURE, bound=1.2, unit="ms"),),
    notes=("the rest was not measured",),
)
TAKEN = Taken(name="tap", machine=MACHINE, tables=[TABLE])


def test_a_terminal_is_shown_aligned_columns() -> None:
    """Title, headings, rows, goals, notes, in this order."""
    assert as_text(TAKEN).splitlines() == [
        "tap (load 0.1)",
        "A tap",
        "  lanes  ms",
        "  10     2.00 (1.00–3.00)",
        "  20     –",
        "at ten: 2.00 (1.00–3.00), goal at most 1.2 ms, missed",
        "the rest was not measured",
    ]


def test_data_has_every_value() -> None:
    """A figure is its median, its ends and all values; a word stays a word."""
    [table] = as_data(TAKEN)["tables"]
    assert table["rows"][0] == [10, {"median": 2.0, "least": 1.0, "most": 3.0, "values": [1.0, 3.0, 2.0]}]
    assert table["rows"][1] == [20, "–"]
    assert (table["goals"][0]["met"], table["goals"][0]["bound"]) == (False, 1.2)


def test_a_page_keeps_its_own_words() -> None:
    """Only what stands between the measure's markers changes, and writing again changes nothing."""
    fold = "# Words\n\n<!-- bench: fold -->\nold\n<!-- end of bench -->\n\n"
    page = f"{fold}<!-- bench: tap -->\n<!-- end of bench -->\nmore\n"
    once = written_into(page, TAKEN)
    assert once.startswith(f"{fold}<!-- bench: tap -->\n")
    assert once.endswith("\n<!-- end of bench -->\nmore\n")
    assert as_markdown(TAKEN) in once
    assert "| 10 | 2.00 (1.00–3.00) |" in once
    assert written_into(once, TAKEN) == once


def test_a_page_without_markers_is_refused() -> None:
    """Both lines that are missing are named."""
    with pytest.raises(TallywireError, match="no markers for tap, expected the lines <!-- bench: tap -->"):
        written_into("# Words\n", TAKEN)


@pytest.mark.parametrize(("load", "warned"), [(0.5, False), (0.51, True)])
def test_a_busy_machine_is_said(load: float, warned: bool) -> None:
    """Above half a process the figures vary."""
    warning = Machine(cores=2, load=load, system="", python="").warning
    assert (warning is not None and "load" in warning) or not warned
