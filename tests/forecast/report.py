"""Write docs/forecast-model.md and its plots: `PYTHONPATH=server:tests python -m forecast.report`.

Needs matplotlib beside the packages of the tests. The same numbers of heats and seeds give the same report.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from forecast import plots, summary
from forecast.baselines import BASELINES
from forecast.generators import GENERATORS, make_heat
from forecast.trial import PARTS, Case, try_heat, usual_errors

FIRST_SEED = 1000
DOCS = Path(__file__).parents[2] / "docs"
KINDS = ("steady", "fade", "storms")


def main() -> None:
    """Run the trial and write the report."""
    parser = argparse.ArgumentParser(description="write docs/forecast-model.md")
    parser.add_argument("--heats", type=int, default=150, help="heats of each of the three generators")
    parser.add_argument("--draws", type=int, default=4000)
    parser.add_argument("--docs", type=Path, default=DOCS)
    options = parser.parse_args()
    cases = run(options.heats, options.draws)
    plots.draw(cases, options.docs / "pictures")
    head = (options.docs / "forecast-model.md").read_text(encoding="utf-8").partition(MARK)[0]
    (options.docs / "forecast-model.md").write_text(
        head + MARK + figures(cases, options.heats, options.draws), encoding="utf-8"
    )


def run(heats: int, draws: int) -> list[Case]:
    """Try the heats of every generator from `FIRST_SEED` on; none of them was used to choose the model's figures."""
    errors = usual_errors(GENERATORS, range(90_000, 90_040))
    seeds = range(FIRST_SEED, FIRST_SEED + heats)
    return [
        case for kind in KINDS for seed in seeds for case in try_heat(make_heat(kind, seed), seed, errors, draws=draws)
    ]


MARK = "<!-- figures: written by `python -m forecast.report` from here on -->\n"


def figures(cases: Sequence[Case], heats: int, draws: int) -> str:
    """Everything below the mark, as Markdown."""
    return "\n".join(
        [
            "",
            f"{3 * heats} heats, {len(cases):,} forecasts of lanes still at work, {draws:,} draws each.",
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
    ours = summary.mean_crps(cases)
    kinds = {kind: 100 * summary.coverage(summary.of(cases, kind=kind), 80) for kind in KINDS}
    whole = 100 * summary.coverage(cases, 80)
    worst = max(abs(each.off) for each in summary.deciles(cases) if each.cases >= 50)
    against = {name: summary.below(ours, summary.mean_error(cases, name)) for name in BASELINES}
    strict = {name: summary.below(ours, summary.mean_crps(cases, name)) for name in BASELINES}
    losses = [summary.mean_loss(cases, name) for name in ("forecast", *BASELINES)]
    rows = [
        ("coverage of the 80 % interval, all", "76–84 %", f"{whole:.1f} %", 76 <= whole <= 84),
        *(
            (f"coverage of the 80 % interval, {kind}", "70–90 %", f"{share:.1f} %", 70 <= share <= 90)
            for kind, share in kinds.items()
        ),
        ("chance to make the cap, worst decile", "±7 points", f"{worst:.1f} points", worst <= 7),
        *_crps_rows(against, "the number it says"),
        *_crps_rows(strict, "with its usual error"),
        ("log loss of places", "below both", " / ".join(f"{loss:.3f}" for loss in losses), losses[0] < min(losses[1:])),
    ]
    head = ["| target | asked | found | met |", "| --- | --- | --- | --- |"]
    return head + [f"| {what} | {asked} | {found} | {'yes' if met else 'NO'} |" for what, asked, found, met in rows]


def _crps_rows(below: dict[str, float], how: str) -> list[tuple[str, str, str, bool]]:
    asked = {"constant pace": 25, "last-round pace": 15}
    return [
        (f"CRPS below {name} ({how})", f"≥ {asked[name]} %", f"{share:.1f} %", share >= asked[name])
        for name, share in below.items()
    ]


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
        "| --- " * 8 + "|",
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
