"""Every command in the docs and in `--help` is run by a test: here, or in the one that this page names for it."""

from __future__ import annotations

import asyncio
import re
import shlex
import shutil
from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path

import pytest

from tallywire.cli.examples import EXAMPLES
from tallywire.cli.main import COMMANDS, main
from tallywire.cli.simulate import simulated
from tallywire.core.facts import Fact, HeatEnded
from tallywire.shell.data_folder import JOURNAL, make_data_folder
from tallywire.shell.export import keep_competition
from tallywire.shell.files import load_bundle, load_competition, load_recording
from tallywire.shell.journal.port import Draft
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.wire.fact_lines import fact_line

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
_BEGINS = (
    r"tallywire|bash|cd tests|python3?|PYTHONPATH=\S+ python|\.venv/\S+|\.test-env/\S+|curl|node|redis-server|nginx"
)
_COMMAND = re.compile(rf"^(?: {{4}})((?:{_BEGINS})(?: .*)?)$", re.MULTILINE)
HERE = set(COMMANDS) - {"rehearse", "steer", "make", "serve", "handover", "edge", "bench", "help"}
"""Commands that end by themselves."""
ELSEWHERE = {
    r"tallywire make ": ("tests/pages/test_make.py", '"make"'),
    r"tallywire rehearse scenarios/\S+ \S+ --data|tallywire steer ": ("tests/docs/test_rehearsal_page.py", "steer"),
    r"tallywire rehearse tallywire-data": ("tests/e2e/test_command_line.py", "branched_and_steered"),
    r"tallywire rehearse .*--exit-at-end": ("tests/e2e/test_command_line.py", '"--exit-at-end"'),
    r"tallywire rehearse": ("tests/docs/test_tour_page.py", "rehearse"),
    r"tallywire links .*(--renew|--revoke)": ("tests/cli/test_links_command.py", "--renew"),
    r"tallywire serve .*--redis": ("tests/e2e/test_take_over.py", '"--standby"'),
    r"tallywire serve .*--push": ("tests/e2e/test_outlets.py", '"--push"'),
    r"tallywire serve .*--mirror": ("tests/e2e/test_command_line.py", '"--mirror"'),
    r"tallywire serve ": ("tests/docs/test_tour_page.py", "with served(*serve"),
    r"tallywire handover ": ("tests/e2e/test_take_over.py", '"handover"'),
    r"tallywire edge ": ("tests/e2e/edges.py", '"edge"'),
    r"tallywire (export|verify) --redis": ("tests/e2e/test_take_over.py", '"--redis"'),
    r"tallywire bench": ("tests/measure/test_bench.py", "bench"),
    r"python3 -m venv|\.venv/": ("tests/e2e/test_package.py", '"pip", "install"'),
    r"(python client\.py|node client\.mjs)": ("tests/docs/test_outlets_page.py", "client"),
    r"curl .*/metrics": ("tests/web/test_inside_route.py", "/metrics"),
    r"curl .*/recording": ("tests/web/test_http_routes.py", "/recording"),
    r"PYTHONPATH=\S+ python -m web\.floods": ("tests/web/test_floods.py", "flooded"),
    r"PYTHONPATH=\S+ python -m scale\.simulate": ("tests/scale/test_model.py", "report"),
    r"PYTHONPATH=\S+ python -m forecast\.": ("tests/forecast/test_calibration.py", "report"),
}
"""Commands that go on until they are stopped, or need another program: by their beginning, the test, a word in it."""
BY_HAND = re.compile(r"bash tests/run|(PYTHONPATH=\S+ )?python (-m pytest .*)?(tests/\S+)( -s)?|cd tests && .* -m \S+")
"""The test command itself, and measures that take minutes: only what they name is looked for."""


def commands() -> list[str]:
    """Every command line of the docs and of the examples, without remarks; lines that only show the form are none."""
    found = [line for page in PAGES for line in _COMMAND.findall(page.read_text(encoding="utf-8"))]
    found += [line for lines in EXAMPLES.values() for _, line in lines]
    plain = (re.sub(r" +# .*", "", line).strip() for line in found)
    return list(dict.fromkeys(line for line in plain if not re.search(r"\[-|\[ID|ID\||…|\.\.\. ", line)))


def elsewhere(line: str) -> tuple[str, str] | None:
    """The test that runs a line, and a word in it."""
    return next((each for begins, each in ELSEWHERE.items() if re.match(begins, line)), None)


def ends(line: str) -> bool:
    """Whether a line is one of ours that ends by itself."""
    found = re.match(r'(?:eval "\$\()?tallywire (\w+)', line)
    return found is not None and found[1] in HERE and elsewhere(line) is None


@pytest.mark.parametrize("line", [line for line in commands() if not ends(line)])
def test_what_goes_on_is_run_elsewhere(line: str) -> None:
    """The test that runs it is there, or the file that is run by hand."""
    by_hand = BY_HAND.match(line)
    if by_hand is not None:
        modules = [f"tests/{each.replace('.', '/')}.py" for each in re.findall(r"^cd tests .* -m (\S+)", line)]
        assert all((ROOT / path).exists() for path in re.findall(r"tests/[\w./]+", line) + modules), line
        return
    where = elsewhere(line)
    assert where is not None, f"found {line!r} in the docs, expected a test that runs it: name it here"
    path, word = where
    assert word in (ROOT / path).read_text(encoding="utf-8"), (line, path)


@pytest.fixture(name="day", scope="module")
def _day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder on the evening of the day: competition files by the names that the docs give them, a recording, and the
    data of a server. What later lines read earlier ones have made."""
    folder = tmp_path_factory.mktemp("day")
    (folder / "scenarios").symlink_to(ROOT / "scenarios")
    text = (ROOT / "scenarios" / "saltmarsh.toml").read_text(encoding="utf-8")
    text = text.replace("ebb-tide", "final").replace("ebb-women", "final-women").replace("ebb-men", "final-men")
    lanes = (ROOT / "scenarios" / "saltmarsh-lanes.csv").read_text(encoding="utf-8")
    lanes = lanes.replace("ebb-women", "final-women").replace("ebb-men", "final-men")
    (folder / "saltmarsh-lanes.csv").write_text(lanes, encoding="utf-8")
    for name in ("my-competition.toml", "cove.toml", "harbour.toml", "trials.toml", "FILE"):
        (folder / name).write_text(text, encoding="utf-8")
    _write(folder / "one.ndjson", _stopped(load_recording(ROOT / "scenarios" / "saltmarsh-women-2.ndjson")))
    competition = load_competition(folder / "my-competition.toml")
    heats = [heat for heat in competition.heats.values() if heat.event != "final"]
    _write(folder / "all.ndjson", simulated(competition, heats, world="steady", seed=1))
    for name, facts in (("tallywire-data", "one"), ("DIR", "one"), ("data", "all")):
        asyncio.run(_served(folder / name, folder / "my-competition.toml", folder / f"{facts}.ndjson"))
    return folder


def _stopped(facts: Sequence[Fact]) -> list[Fact]:
    """The first minute of a heat, which the table ends then: cues cost by the second."""
    minute = [fact for fact in facts if fact.at_ms <= 60_000 and not isinstance(fact, HeatEnded)]
    return [*minute, HeatEnded(id="e", heat=facts[0].heat, at_ms=60_000, sender="table-e", sequence=1)]


def _write(path: Path, facts: Iterable[Fact]) -> None:
    path.write_bytes(b"".join(fact_line(fact) + b"\n" for fact in facts))


async def _served(data: Path, competition: Path, recording: Path) -> None:
    make_data_folder(data)
    keep_competition(data, load_bundle(competition))
    journal = SqliteJournal.open(data / JOURNAL)
    facts = load_recording(recording)
    drafts = [Draft(sender=fact.sender, sequence=fact.sequence, body=fact_line(fact)) for fact in facts]
    await journal.append(drafts, received_unix_ms=1)
    await journal.close()


@pytest.mark.parametrize(
    "command",
    [
        "wording",
        "results my-competition.toml one.ndjson --format html",
        "standings my-competition.toml one.ndjson --format html",
        "callsheet my-competition.toml one.ndjson --heat final-women --out french/call.html",
        "scorecard my-competition.toml one.ndjson --out french/card.html",
        "sheets my-competition.toml --event final --out french/sheets",
    ],
)
def test_what_is_printed_comes_in_the_language_that_is_asked_for(
    command: str, day: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each command with `--language` prints French, or writes it into its files."""
    monkeypatch.chdir(day)
    shutil.rmtree(day / "french", ignore_errors=True)
    (day / "french").mkdir()
    assert main([*command.split(), "--language", "fr"]) == 0
    written = [path.read_text(encoding="utf-8") for path in (day / "french").rglob("*.html")]
    for page in written or [capsys.readouterr().out]:
        assert re.search(r'<html lang="fr"|^language = "fr"$', page, re.MULTILINE)


def test_an_export_of_what_was_refused_has_everything_else_too(
    day: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where nothing was refused, `export --refused` is the plain export."""
    monkeypatch.chdir(day)
    exported = [(main(["export", "tallywire-data", *more]), capsys.readouterr().out) for more in ([], ["--refused"])]
    assert exported[0] == exported[1]
    assert len(exported[0][1].splitlines()) > 10


@pytest.mark.parametrize("line", [line for line in commands() if ends(line)])
def test_what_ends_is_run(
    line: str, day: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It ends with exit code 0, or says what it needs that a day has and this folder has not."""
    monkeypatch.chdir(day)
    source = "all.ndjson" if line.startswith("tallywire seed") else "one.ndjson"
    (day / "heat.ndjson").write_bytes((day / source).read_bytes())
    inner = re.fullmatch(r'eval "\$\((.*)\)"', line)
    words, _, into = (inner[1] if inner else line).partition(" > ")
    code = main(shlex.split(words)[1:])
    printed = capsys.readouterr()
    if into:
        (day / into).write_text(printed.out, encoding="utf-8")
    assert code == 0, printed.err


def in_sentences() -> list[str]:
    """Every command that stands inside a sentence of the docs, in one line."""
    text = "\n".join(
        re.sub(r"^```.*?^```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL | re.MULTILINE) for page in PAGES
    )
    found = re.findall(r"`((?:tallywire|bash tests/run|python(?: -m)?) [^`]+)`", text)
    return sorted({" ".join(line.split()) for line in found})


@cache
def tried() -> str:
    """What all tests say."""
    return "".join(path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob("*.py"))


@pytest.mark.parametrize("line", [line for line in in_sentences() if line.startswith("tallywire ")])
def test_what_a_sentence_names_is_there_and_tried(line: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The command is there and knows each option that stands beside it, and a test uses that option."""
    name = line.split()[1]
    with pytest.raises(SystemExit, match="0"):
        main(["help"] if name.startswith("-") or name == "help" else ["help", name])
    known = capsys.readouterr().out
    for option in re.findall(r"--[a-z][\w-]+", line):
        assert option in known
        assert f'"{option}"' in tried() or f"{option} " in tried(), f"found {option} in no test"


@pytest.mark.parametrize("line", [line for line in in_sentences() if not line.startswith("tallywire ")])
def test_what_a_sentence_runs_is_there(line: str) -> None:
    """The file or the module that it names is part of the project, or of Python."""
    for path in re.findall(r"(?:tests|scenarios)/[\w./]+", line):
        assert (ROOT / path).exists()
    for module in re.findall(r"-m ([a-z]\S+)", line.partition("pytest")[0]):
        path = Path("tests", *module.split(".")).with_suffix(".py")
        assert (ROOT / path).exists() or module in {"venv"}
