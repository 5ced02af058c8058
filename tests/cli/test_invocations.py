"""The command line under odd use: no traceback, a documented exit code, and a message that names what helps."""

from __future__ import annotations

import os
import re
import shlex
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from tallywire.cli.examples import EXAMPLES
from tallywire.cli.main import CLOSED, COMMANDS, INTERRUPTED, OK, OUTPUT, WRONG, main, make_parser

ROOT = Path(__file__).parents[2]
SCENARIOS = ROOT / "scenarios"
FILE, HEAT = str(SCENARIOS / "saltmarsh.toml"), str(SCENARIOS / "saltmarsh-women-2.ndjson")
LIFT = str(SCENARIOS / "estuary-anchor.ndjson")

WRONG_USES: Sequence[tuple[str, str]] = [
    ("", "COMMAND"),
    ("nonsense", "invalid choice"),
    ("--nonsense", "COMMAND"),
    ("help nonsense", "invalid choice"),
    ("rehearse missing.ndjson", "missing.ndjson"),
    ("rehearse folder", "folder"),
    ("rehearse empty", "empty"),
    ("rehearse letters", "letters"),
    (f"rehearse {HEAT} --from 99:00", "--from"),
    (f"rehearse {HEAT} --from soon", "--from"),
    (f"rehearse {HEAT} --speed 0", "--speed"),
    (f"rehearse {HEAT} --speed nan", "--speed"),
    (f"rehearse {HEAT} --port -1", "--port"),
    (f"rehearse {HEAT} --port 70000", "--port"),
    (f"rehearse {HEAT} --competition missing.toml", "missing.toml"),
    (f"rehearse {HEAT} --competition {HEAT}", "saltmarsh-women-2.ndjson"),
    (f"rehearse {HEAT} --allow-host http://x", "--allow-host"),
    ("serve", "COMPETITION"),
    ("serve missing.toml", "missing.toml"),
    ("serve folder", "folder"),
    ("serve letters", "letters"),
    (f"serve {FILE} --allow-origin nonsense", "--allow-origin"),
    (f"serve {FILE} --allow-origin https://pages.example/path", "--allow-origin"),
    (f"serve {FILE} --allow-origin ftp://pages.example", "--allow-origin"),
    (f"serve {FILE} --port eighty", "--port"),
    (f"serve {FILE} --certificate missing.pem", "--private-key"),
    ("export", "DIR"),
    ("export missing", "missing"),
    ("export letters", "journal.sqlite"),
    ("links", "DIR"),
    ("links missing --make nonsense", "--make"),
    ("verify", "required"),
    ("verify missing", "missing"),
    ("verify folder --redis redis://127.0.0.1:1/0", "not allowed with"),
    ("verify --redis nowhere", 'found "nowhere"'),
    ("export --redis nowhere", 'found "nowhere"'),
    ("check", "FILE"),
    ("check missing.toml", "missing.toml"),
    ("check folder", "directory"),
    ("check empty", "required"),
    ("check letters", "letters"),
    ("check latin1.toml", "UTF-8"),
    ("schema", "name"),
    ("schema nonsense", "nonsense"),
    ("results", "COMPETITION"),
    (f"results {FILE}", "RECORDING"),
    (f"results {FILE} missing.ndjson", "missing.ndjson"),
    (f"results {FILE} letters", "letters"),
    (f"results {FILE} {HEAT} --event nonsense", "--event"),
    (f"results {FILE} {HEAT} --heat nonsense", "--heat"),
    (f"results {FILE} {HEAT} --division nonsense", "--division"),
    (f"results {FILE} {HEAT} --format nonsense", "--format"),
    (f"results {FILE} {HEAT} --as-of 0", "--as-of"),
    (f"results {FILE} {HEAT} --as-of 999999", "--as-of"),
    (f"results {FILE} {HEAT} {HEAT} --as-of 5", "--as-of"),
    (f"results {FILE} {LIFT}", "heat"),
    (f"results {HEAT} {FILE}", "saltmarsh-women-2.ndjson"),
    (f"standings {FILE} {HEAT} --division nonsense", "--division"),
    (f"sheets {FILE}", "--out"),
    (f"sheets {FILE} --event nonsense --out paper", "nonsense"),
    (f"seed {FILE} {HEAT} --division women --event nonsense --lanes 10", "nonsense"),
    (f"seed {FILE} {HEAT} --event final --lanes 0", "--lanes"),
    (f"cues {FILE}", "RECORDING"),
    (f"cues {FILE} letters", "letters"),
    (f"callsheet {FILE} {HEAT} --heat nonsense --out call.html", "nonsense"),
    (f"scorecard {FILE} {HEAT} --heat nonsense --out card.html", "nonsense"),
    ("completion", "shell"),
    ("completion nonsense", "nonsense"),
]


@pytest.fixture(autouse=True)
def _somewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stand in a folder with files that are none of what a command wants."""
    monkeypatch.chdir(tmp_path)
    Path("folder").mkdir()
    Path("empty").touch()
    Path("letters").write_text("these are only letters\n")
    Path("latin1.toml").write_bytes('name = "Kreis Süd"\n'.encode("latin-1"))


def invoke(arguments: Sequence[str]) -> int:
    """Run a command in this process and give its exit code."""
    try:
        return main(arguments)
    except SystemExit as left:
        assert isinstance(left.code, int)
        return left.code


@pytest.mark.parametrize(("line", "named"), WRONG_USES, ids=[line or "nothing" for line, _ in WRONG_USES])
def test_a_wrong_use_is_explained(line: str, named: str, capsys: pytest.CaptureFixture[str]) -> None:
    """It ends with exit code 2 and names what is wrong, with nothing on standard output."""
    assert invoke(shlex.split(line)) == WRONG
    said = capsys.readouterr()
    assert named in said.err
    assert said.out == ""


def test_there_are_sixty_of_them() -> None:
    """The table does not shrink unnoticed."""
    assert len({line for line, _ in WRONG_USES}) >= 60


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_has_examples_in_its_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """`help COMMAND` and `COMMAND --help` are the same, and end with lines to copy that the parser takes."""
    assert invoke(["help", command]) == OK
    first = capsys.readouterr().out
    assert invoke([command, "--help"]) == OK
    assert capsys.readouterr().out == first
    assert all(line in first for _, line in EXAMPLES[command])


@pytest.mark.parametrize("line", [line for lines in EXAMPLES.values() for _, line in lines])
def test_each_example_is_taken(line: str) -> None:
    """The parser knows every option of an example."""
    inner = re.fullmatch(r'eval "\$\((.*)\)"', line)
    words = shlex.split((inner[1] if inner else line).split(">")[0])
    assert words[0] == "tallywire"
    assert make_parser(words[1]).parse_args(words[1:]).run


def test_the_version_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    """`--version` names the program and its version."""
    assert invoke(["--version"]) == OK
    assert re.fullmatch(r"tallywire \d+\.\d+\.\d+\n", capsys.readouterr().out)


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_a_shell_learns_every_command(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    """What `completion` prints names every command and is for that shell."""
    assert invoke(["completion", shell]) == OK
    script = capsys.readouterr().out
    assert all(command in script for command in COMMANDS)


def test_bash_takes_the_completion() -> None:
    """A real bash loads it and completes a command's beginning."""
    script = subprocess.run(process("completion", "bash"), capture_output=True, check=True, text=True).stdout
    ask = 'COMP_WORDS=(tallywire stand); COMP_CWORD=1; _shtab_tallywire; echo "${COMPREPLY[@]}"'
    done = subprocess.run(["bash", "-c", f"{script}\n{ask}"], capture_output=True, check=True, text=True)
    assert done.stdout.split() == ["standings"]


def process(*arguments: str) -> list[str]:
    """Give a command line for a process of its own."""
    return [sys.executable, "-m", "tallywire", *arguments]


@pytest.mark.slow
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has /dev/full")
def test_a_full_disk_is_one_message() -> None:
    """Output that cannot be written ends with exit code 4 and one line."""
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(process("schema", "events"), stdout=full, stderr=subprocess.PIPE, check=False, text=True)
    assert done.returncode == OUTPUT
    assert done.stderr.startswith("tallywire: ")
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.slow
def test_a_closed_pipe_is_nothing_to_talk_about() -> None:
    """When the reader has enough, the command ends with exit code 141 and no word."""
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(process("schema", "events"), stdout=writing, stderr=subprocess.PIPE, check=False)
    os.close(writing)
    assert (done.returncode, done.stderr) == (CLOSED, b"")


@pytest.mark.slow
def test_a_terminal_with_few_letters_shows_the_rest_as_numbers() -> None:
    """With ASCII alone a name with other letters is printed, not a traceback."""
    plain = {**os.environ, "PYTHONIOENCODING": "ascii"}
    wanted = subprocess.run(process("results", FILE, HEAT), capture_output=True, check=True, text=True).stdout
    done = subprocess.run(process("results", FILE, HEAT), capture_output=True, check=True, text=True, env=plain)
    assert done.stdout == wanted.encode("ascii", "backslashreplace").decode()


@pytest.mark.slow
def test_ctrl_c_while_the_program_is_loaded_is_no_traceback(tmp_path: Path) -> None:
    """An interrupt in the middle of an import ends with exit code 130 and no word."""
    # Loaded in place of the command's own module: it says that it is being imported, and waits.
    slow = tmp_path / "sitecustomize.py"
    slow.write_text(
        "import importlib.abc, signal, sys, time\n"
        # A test command in the background of a shell ignores the interrupt, and hands that on.
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "class Slow(importlib.abc.MetaPathFinder):\n"
        "    def find_spec(self, name, path, target=None):\n"
        "        if name == 'tallywire.cli.results':\n"
        "            print('loading', flush=True)\n"
        "            time.sleep(60)\n"
        "sys.meta_path.insert(0, Slow())\n"
    )
    paths = os.pathsep.join([str(tmp_path), os.environ.get("PYTHONPATH", "")])
    with subprocess.Popen(
        process("results", FILE, HEAT),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": paths},
    ) as loading:
        assert loading.stdout is not None
        assert loading.stdout.readline() == b"loading\n"
        loading.send_signal(signal.SIGINT)
        _, said = loading.communicate(timeout=60)
    assert (loading.returncode, said) == (INTERRUPTED, b"")


def test_a_command_imports_only_its_own_module() -> None:
    """What serves, prints and checks is not loaded to print a schema."""
    code = "import sys; from tallywire.cli.main import make_parser; make_parser('schema'); print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert not {"uvicorn", "starlette", "tallywire.web", "tallywire.cli.live", "shtab"} & set(done.stdout.split())


def test_a_start_imports_nothing_that_few_need() -> None:
    """A server is ready, with every format there is, without what works forecasts out, plays, makes up or pushes."""
    code = (
        "import sys; from tallywire.cli.main import make_parser; make_parser('serve'); "
        "from tallywire.core.formats.registry import formats; formats(); print(*sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    few = {"made_up", "playback", "pusher", "helper.recipes"}
    others = {"numpy", "ifaddr", "tallywire.core.call.whole", *(f"tallywire.shell.{each}" for each in few)}
    loaded = {*done.stdout.split()}
    assert not others & loaded
    assert {"tallywire.web.serving", "tallywire.formats.ladder"} <= loaded


def test_redis_is_loaded_for_a_journal_on_it_alone() -> None:
    """Who serves from a folder needs none of it (pyproject.toml says so)."""
    code = "import sys; import tallywire.cli.main, tallywire.shell.journal.opening; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert not {"redis", "hiredis"} & set(done.stdout.split())


def test_the_exit_codes_are_documented() -> None:
    """The table in docs/command-line.md has the program's codes."""
    page = (ROOT / "docs" / "command-line.md").read_text()
    told = {int(code) for code in re.findall(r"^\| (\d+) \|", page, re.MULTILINE)}
    assert told == {OK, WRONG, 3, OUTPUT, INTERRUPTED, CLOSED}
