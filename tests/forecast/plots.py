"""The plots of docs/forecast-model.md."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np

from forecast import summary
from forecast.baselines import BASELINES
from forecast.trial import OURS, PARTS, Case

COLOURS = {
    "steady": "#0072B2",
    "fade": "#D55E00",
    "storms": "#009E73",
    "wander": "#CC79A7",
    "kick": "#E69F00",
    "halts": "#56B4E9",
}
"""Six of the Okabe–Ito set, told apart by marker too."""
MARKERS = {"steady": "o", "fade": "s", "storms": "^", "wander": "v", "kick": "D", "halts": "x"}


def draw(cases: Sequence[Case], folder: Path) -> None:
    """Draw every plot into a folder, as small PNG files."""
    import_module("matplotlib").use("Agg")
    folder.mkdir(parents=True, exist_ok=True)
    for name, plot in (("coverage", _coverage), ("cap", _cap), ("crps", _crps)):
        _save(plot, cases, folder / f"forecast-{name}.png")


def _save(plot: Any, cases: Sequence[Case], file: Path) -> None:
    pyplot = import_module("matplotlib.pyplot")
    figure, axes = pyplot.subplots(figsize=(5.2, 3.4), layout="constrained")
    plot(axes, cases)
    axes.spines[["top", "right"]].set_visible(False)
    axes.legend(frameon=False, fontsize=8)
    figure.savefig(file, dpi=90, metadata={"Software": None})
    pyplot.close(figure)


def _coverage(axes: Any, cases: Sequence[Case]) -> None:
    axes.axhspan(76, 84, color="0.9", label="asked of all")
    for kind, colour in COLOURS.items():
        shares = [100 * summary.coverage(summary.of(cases, kind=kind, part=part), 80) for part in PARTS]
        axes.plot([100 * part for part in PARTS], shares, color=colour, marker=MARKERS[kind], label=kind)
    axes.set(xlabel="leader's work, %", ylabel="finishes in the 80 % interval, %", ylim=(60, 100), xticks=(25, 50, 75))


def _cap(axes: Any, cases: Sequence[Case]) -> None:
    said = np.array([0, 100])
    axes.fill_between(said, said - 5, said + 5, color="0.9", label="±5 points")
    found = [each for each in summary.deciles(cases) if each.cases >= 100]
    axes.plot([100 * each.said for each in found], [100 * each.seen for each in found], "k-o", label="all")
    for kind, colour in COLOURS.items():
        split = [each for each in summary.deciles(summary.of(cases, kind=kind)) if each.cases >= 100]
        points = [100 * each.said for each in split], [100 * each.seen for each in split]
        axes.plot(*points, color=colour, marker=MARKERS[kind], linestyle=":", markersize=4, label=kind)
    axes.set(xlabel="chance said, %", ylabel="made the cap, %", xlim=(0, 100), ylim=(0, 100))


def _crps(axes: Any, cases: Sequence[Case]) -> None:
    styles = {OURS: ("k", "o", "-"), "constant pace": ("#CC79A7", "s", "--"), "last-round pace": ("#E69F00", "^", ":")}
    for name in (OURS, *BASELINES):
        colour, marker, line = styles[name]
        means = [summary.mean_crps(summary.of(cases, part=part), name) for part in PARTS]
        axes.plot([100 * part for part in PARTS], means, color=colour, marker=marker, linestyle=line, label=name)
    axes.set(xlabel="leader's work, %", ylabel="mean CRPS, s (baselines with error)", xticks=(25, 50, 75))
    axes.set_ylim(bottom=0)
