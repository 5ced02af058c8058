"""Ask the program by its command line, in this process, and compare what it says with the oracle row by row."""

from __future__ import annotations

import contextlib
import io
import json
from fractions import Fraction
from pathlib import Path
from typing import Any

from oracle.counted import Fact
from oracle.toml import toml_text
from oracle.whole import worked_out
from tallywire.cli.main import main

Said = dict[str, Any]


def asked(*arguments: object) -> Any:
    """Give the JSON that a command prints."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([str(each) for each in arguments])
    if code != 0:
        raise RuntimeError(f"exit code {code}: {err.getvalue()}")
    return json.loads(out.getvalue())


def program(folder: Path, competition: dict[str, Any], lines: list[Fact]) -> Said:
    """Give what `results` and `standings` say of a competition and its recording."""
    file, recording = folder / "trials.toml", folder / "heats.ndjson"
    file.write_text(toml_text(competition), encoding="utf-8")
    recording.write_text("".join(json.dumps(line) + "\n" for line in lines), encoding="utf-8")
    return {
        "results": asked("results", file, recording, "--json"),
        "standings": asked("standings", file, recording, "--format", "json"),
    }


def same_number(found: Any, expected: Fraction) -> bool:
    """Tell whether a printed number is the exact one, with at most two decimals."""
    return found is not None and abs(Fraction(str(found)) - expected) <= Fraction(1, 200)


def differences(said: Said, expected: dict[str, Any]) -> list[str]:
    """Give every difference between the program and the oracle, one line each."""
    return result_differences(said["results"]["rows"], expected["results"]) + standing_differences(
        said["standings"]["divisions"], expected["standings"]
    )


def result_differences(found: list[Said], expected: list[dict[str, Any]]) -> list[str]:
    """Compare the rows of `results`."""
    theirs = {(row["event"], row["part"], row["entry"]): row for row in found}
    ours = {(row["event"], row["part"], row["entry"]): row for row in expected}
    lines = [f"results {key}: only one of the two has a row" for key in theirs.keys() ^ ours.keys()]
    for key in theirs.keys() & ours.keys():
        row, mine = theirs[key], ours[key]
        pairs = [
            ("place", row["place"], mine.get("place")),
            ("shared", row["shared"], mine.get("place_shared")),
            ("heat", row["heat"], mine["heat"]),
            ("heat_place", row["heat_place"], mine["heat_place"]),
            ("lane", row["lane"], mine["lane"]),
            ("result", row["result"], mine["text"]),
            ("result_ms", row["result_ms"], mine["ms"]),
            ("scored_reps", row["scored_reps"], mine["scored"]),
            ("status", row["status"] if mine["over"] else None, mine["status"] if mine["over"] else None),
            ("no_reps", row["no_reps"], row["no_reps"] if mine["ladder"] else mine["no_reps"]),
        ]
        lines += [f"results {key} {name}: program {a!r}, oracle {b!r}" for name, a, b in pairs if a != b]
        if "points" not in mine or not same_number(row["points"], mine["points"]):
            lines.append(f"results {key} points: program {row['points']!r}, oracle {mine.get('points')!r}")
    return sorted(lines)


def standing_differences(found: list[Said], expected: dict[str, Any]) -> list[str]:
    """Compare the divisions of `standings`."""
    lines = []
    for division in found:
        mine = expected[division["division"]]
        name = f"standings {division['division']}"
        if division["events"] != mine["events"]:
            lines.append(f"{name} events: program {division['events']}, oracle {mine['events']}")
        if sorted(division["still_in"]) != sorted(mine["still_in"]):
            lines.append(f"{name} still_in: program {division['still_in']}, oracle {mine['still_in']}")
        ours = {row["entry"]: row for row in mine["rows"]}
        for row in division["rows"]:
            lines += [f"{name} {row['entry']} {line}" for line in row_differences(row, ours[row["entry"]])]
    return lines


def row_differences(row: Said, mine: dict[str, Any]) -> list[str]:
    """Compare one row of a standing."""
    pairs = [
        ("place", row["place"], mine["place"]),
        ("shared", row["shared"], mine["shared"]),
        ("cuts_survived", row["cuts_survived"], mine["survived"]),
        ("decided_by", row["decided_by"], mine["decided_by"]),
        ("scores", sorted(row["scores"]), sorted(mine["scores"])),
    ]
    numbers = [
        ("points", row["points"], mine["total"]),
        ("brought", row["brought"], Fraction(mine["brought"])),
        ("deducted", row["deducted"], Fraction(mine["deducted"])),
    ]
    for name in row["scores"].keys() & mine["scores"].keys():
        theirs, ours = row["scores"][name], mine["scores"][name]
        pairs += [(f"{name} {each}", theirs[each], ours[each]) for each in ("place", "has_result", "dropped")]
        numbers.append((f"{name} points", theirs["points"], ours["points"]))
    lines = [f"{name}: program {a!r}, oracle {b!r}" for name, a, b in pairs if a != b]
    return lines + [f"{name}: program {a!r}, oracle {b}" for name, a, b in numbers if not same_number(a, b)]


def compared(folder: Path, competition: dict[str, Any], lines: list[Fact]) -> list[str]:
    """Give every difference of one case."""
    return differences(program(folder, competition, lines), worked_out(competition, lines))
