"""Write docs/forecast-model.md and its plots: `PYTHONPATH=server:tests python -m forecast.report`.

Needs matplotlib beside the packages of the tests. The same numbers of heats and seeds give the same report.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from forecast import plots, road_report, summary
from forecast.baselines import BASELINES
from forecast.trial import PARTS, Case, try_heat, usual_errors
from forecast.worlds import KINDS, make_heat

FIRST_SEED = 1000
DOCS = Path(__file__).parents[2] / "docs"
ENOUGH = 100
"""A decile counts with so many cases."""


def main() -> None:
    """Run the trial and write the report."""
    parser = argparse.ArgumentParser(description="write docs/forecast-model.md")
    parser.add_argument("--heats", type=int, default=150, help="heats of each of the six generators")
    parser.add_argument("--first", type=int, default=FIRST_SEED, help="the first seed of the heats")
    parser.add_argument("--draws", type=int, default=1000)
    parser.add_argument("--docs", type=Path, default=DOCS)
    options = parser.parse_args()
    cases = run(options.heats, options.draws, options.first)
    plots.draw(cases, options.docs / "pictures")
    head = (options.docs / "forecast-model.md").read_text(encoding="utf-8").partition(MARK)[0]
    (options.docs / "forecast-model.md").write_text(
        head
        + MARK
        + figures(cases, options.heats, options.draws)
        + road_report.figures(*road_report.run(options.draws)),
        encoding="utf-8",
    )


def run(heats: int, draws: int, first: int = FIRST_SEED) -> list[Case]:
    """Try the heats of every generator from a seed on; those of `FIRST_SEED` did not serve to choose any figure."""
    errors = usual_errors(KINDS, range(90_000, 90_040))
    seeds = range(first, first + heats)
    return [
        case for kind in KINDS for seed in seeds for case in try_heat(make_heat(kind, seed), seed, errors, draws=draws)
    ]


MARK = "<!-- figures: written by `python -m forecast.report` from here on -->\n"


def figures(cases: Sequence[Case], heats: int, draws: int) -> str:
    """Everything below the mark, as Markdown."""
    return "\n".join(
        [
            "",
            f"{len(KINDS) * heats} heats, {len(cases):,} forecasts of lanes still at work, {draws:,} draws each.",
            "",
            "### Targets",
            "",
            *_targets(cases),
            "",
            "### Coverage, CRPS and log loss",
            "",
            *_table(cases),
            "",
            "![coverage by generator and moment](pictures/forecast-coverage.png)",
            "",
            "### Chance to make the cap",
            "",
            *_deciles(cases),
            "",
            "![said against seen](pictures/forecast-cap.png)",
            "",
            "![mean CRPS](pictures/forecast-crps.png)",
            "",
        ]
    )


def _targets(cases: Sequence[Case]) -> list[str]:
    """Each target with what came, and whether it is met."""
    losses = [summary.mean_loss(cases, name) for name in ("forecast", *BASELINES)]
    rows = [_covered("all", cases, 76, 84)]
    rows += [_covered(kind, summary.of(cases, kind=kind), 72, 88) for kind in KINDS]
    rows.append(_worst_decile("all", cases, 5))
    rows += [_worst_decile(kind, summary.of(cases, kind=kind), 12) for kind in KINDS]
    rows += [_crps_below(cases, name) for name in BASELINES]
    told = " / ".join(f"{loss:.3f}" for loss in losses)
    rows.append(("log loss of places", "below both", told, losses[0] < min(losses[1:])))
    return summary.as_table(rows)


def _covered(name: str, cases: Sequence[Case], low: int, high: int) -> summary.Row:
    share = 100 * summary.coverage(cases, 80)
    return f"coverage of the 80 % interval, {name}", f"{low}–{high} %", f"{share:.1f} %", low <= share <= high


def _worst_decile(name: str, cases: Sequence[Case], points: int) -> summary.Row:
    worst = max((abs(each.off) for each in summary.deciles(cases) if each.cases >= ENOUGH), default=0.0)
    return f"chance to make the cap, worst decile, {name}", f"±{points} points", f"{worst:.1f} points", worst <= points


def _crps_below(cases: Sequence[Case], name: str) -> summary.Row:
    below = summary.below(summary.mean_crps(cases), summary.mean_crps(cases, name))
    return f"CRPS below {name} with its usual error", "≥ 30 %", f"{below:.1f} %", below >= 30


def _table(cases: Sequence[Case]) -> list[str]:
    """Coverage and scores, over all and by generator and moment; CRPS in seconds, log loss in nats."""
    groups = [("all", list(cases))]
    groups += [(kind, summary.of(cases, kind=kind)) for kind in KINDS]
    groups += [(f"{part:.0%} of the work", summary.of(cases, part=part)) for part in PARTS]
    groups += [(f"{kind}, {part:.0%}", summary.of(cases, kind=kind, part=part)) for kind in KINDS for part in PARTS]
    head = [
        "| | cases | 50 % | 80 % | 95 % | CRPS | constant | with error | last round | with error | log loss | constant "
        "| last round |",
        "| --- " * 13 + "|",
    ]
    return head + [_row(name, group) for name, group in groups]


def _row(name: str, group: Sequence[Case]) -> str:
    covered = [f"{100 * summary.coverage(group, level):.1f}" for level in (50, 80, 95)]
    scores = [f"{summary.mean_crps(group):.1f}"]
    for each in BASELINES:
        scores += [f"{summary.mean_error(group, each):.1f}", f"{summary.mean_crps(group, each):.1f}"]
    losses = [f"{summary.mean_loss(group, each):.3f}" for each in ("forecast", *BASELINES)]
    return "| " + " | ".join([name, f"{len(group):,}", *covered, *scores, *losses]) + " |"


def _deciles(cases: Sequence[Case]) -> list[str]:
    """Said and seen by decile, over all and within each generator."""
    columns = [summary.deciles(cases), *(summary.deciles(summary.of(cases, kind=kind)) for kind in KINDS)]
    head = [
        "| decile | cases | said | seen | off | " + " | ".join(f"{kind}: off (cases)" for kind in KINDS) + " |",
        "| --- " * (5 + len(KINDS)) + "|",
    ]
    rows = []
    for each in columns[0]:
        split = []
        for column in columns[1:]:
            same = [other for other in column if other.number == each.number]
            split.append(f"{same[0].off:+.0f} ({same[0].cases})" if same else "–")
        share = f"{100 * each.said:.1f} % | {100 * each.seen:.1f} % | {each.off:+.1f}"
        rows.append(f"| {each.number + 1} | {each.cases} | {share} | " + " | ".join(split) + " |")
    return head + rows


if __name__ == "__main__":
    main()
