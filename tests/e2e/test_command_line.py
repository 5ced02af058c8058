"""The command line: servers and rehearsals in processes of their own, and what other commands say of their data."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import time
from pathlib import Path

import jsonschema
import pytest
import trustme

from e2e.processes import PRACTICE, Done, asked, exported, practice, served, served_with, tallywire
from e2e.sender import Sender

pytestmark = pytest.mark.slow

SCENARIOS = Path(__file__).parents[2] / "scenarios"
COMPETITION, RECORDING = SCENARIOS / "saltmarsh.toml", SCENARIOS / "saltmarsh-women-2.ndjson"


def run(*arguments: str | Path, code: int = 0) -> Done:
    """Run a command to its end in a process of its own and check its exit code."""
    done = subprocess.run(tallywire(*map(str, arguments)), capture_output=True, timeout=120, check=False)
    assert done.returncode == code, done.stderr.decode()
    return Done(done.stdout, done.stderr)


def test_a_rehearsal_ends_in_the_recordings_result(tmp_path: Path) -> None:
    """What a rehearsal prints at its end on stdout is, byte for byte, what `results` prints for the recording."""
    rehearsed = run(
        *("rehearse", "--speed", "240", "--exit-at-end", "--json", "--port", "0", "--data", tmp_path / "data"),
    )
    assert rehearsed.stdout == asked("results", COMPETITION, RECORDING, "--json").stdout
    rows = json.loads(rehearsed.stdout)["rows"]
    wanted = {"place", "entry", "lane", "result", "result_ms", "scored_reps", "status", "no_reps", "points"}
    assert len(rows) == 10
    assert all(wanted <= set(row) for row in rows)


def test_a_killed_rehearsal_can_begin_again(tmp_path: Path) -> None:
    """A rehearsal that was killed and is started again in its folder begins anew, and ends in the same result."""
    data = tmp_path / "data"
    arguments = ("rehearse", "--speed", "240", "--json", "--port", "0", "--data", data)
    with subprocess.Popen(tallywire(*map(str, arguments)), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) as first:
        assert first.stderr is not None
        while b"stop with" not in first.stderr.readline():
            assert first.poll() is None
        deadline = time.monotonic() + 60
        while not exported(data):
            assert time.monotonic() < deadline
        first.kill()
    assert run(*arguments, "--exit-at-end").stdout == asked("results", COMPETITION, RECORDING, "--json").stdout


def test_check_says_all_and_exits_with_2(tmp_path: Path) -> None:
    """A good file exits with 0, a wrong one with 2, every problem on a line of its own."""
    assert b"no problems" in asked("check", COMPETITION).stdout
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(PRACTICE.replace('"60:00"', '"6x"').replace("amount = 1000", "amount = 0"), encoding="utf-8")
    errors = asked("check", wrong, code=2).stderr.decode().splitlines()
    assert errors[0].endswith("wrong.toml: 2 problems")
    assert [line.strip().split(" (")[0] for line in errors[1:]] == [
        "event[1].workout.time_cap",
        "event[1].workout.station[1].amount",
    ]


def test_a_missing_file_is_said_plainly(tmp_path: Path) -> None:
    """A file that is not there is named, with exit code 2 and no traceback."""
    done = asked("results", tmp_path / "none.toml", RECORDING, code=2)
    assert b"No such file" in done.stderr
    assert b"Traceback" not in done.stderr


def test_results_name_facts_of_unknown_lanes(tmp_path: Path) -> None:
    """A recording that does not fit the competition is refused with what does not fit."""
    stranger = tmp_path / "r.ndjson"
    stranger.write_bytes(RECORDING.read_bytes().replace(b'"lane":4', b'"lane":44'))
    assert b"lane: found 44, expected a lane of women-2" in asked("results", COMPETITION, stranger, code=2).stderr


@pytest.mark.parametrize("name", ["competition", "events"])
def test_schemas_are_json_schemas(name: str) -> None:
    """Both printed schemas are valid JSON Schema. Source: the `jsonschema` package."""
    jsonschema.Draft202012Validator.check_schema(json.loads(asked("schema", name).stdout))


def test_the_export_is_a_recording(tmp_path: Path) -> None:
    """What a live server took can be exported and gives the result; refused facts come only when asked for."""
    competition, data = practice(tmp_path), tmp_path / "data"
    with served("serve", str(competition), "--data", str(data), "--port", "0") as server:
        table = Sender(server.port, "table-a", server.key("scoring table"))
        table.start_heat()
        pad = Sender(server.port, "lane-1-a", server.key("lane pad 1"), lane=1)
        pad.say("rep_counted", lane=1, n=7, at_ms=5)
        pad.close()
        table.close()
    recording = tmp_path / "r.ndjson"
    recording.write_bytes(asked("export", data).stdout)
    rows = json.loads(asked("results", competition, recording, "--json").stdout)["rows"]
    assert {row["lane"]: row["scored_reps"] for row in rows} == {1: 7, 2: 0}


def test_a_running_server_is_exported_served_elsewhere_and_rehearsed(tmp_path: Path) -> None:
    """The export of a folder in use has what was acknowledged; a server of that file goes on, a rehearsal plays it."""
    competition, data, copy = practice(tmp_path), tmp_path / "data", tmp_path / "all.ndjson"
    with served("serve", str(competition), "--data", str(data), "--port", "0") as server:
        table = Sender(server.port, "table-a", server.key("scoring table"))
        table.start_heat()
        table.say("count_corrected", lane=2, at_ms=9, scored_reps=12, reason="sheet")
        copy.write_bytes(asked("export", data).stdout)
        table.close()
    assert b"version 2, no damage" in asked("verify", copy).stdout
    rehearsed = json.loads(run("rehearse", copy, "--exit-at-end", "--json", "--port", "0").stdout)["rows"]
    assert {row["lane"]: row["scored_reps"] for row in rehearsed} == {1: 0, 2: 12}
    with served("serve", str(copy), "--data", str(tmp_path / "new"), "--port", "0") as server:
        table = Sender(server.port, "table-b", server.key("scoring table"))
        table.say("count_corrected", lane=1, at_ms=9, scored_reps=5, reason="sheet")
        table.close()
    rows = json.loads(asked("results", copy, tmp_path / "new", "--json").stdout)["rows"]
    assert {row["lane"]: row["scored_reps"] for row in rows} == {1: 5, 2: 12}


def test_a_live_server_is_branched_and_steered_without_touching_it(tmp_path: Path) -> None:
    """What a running server has until now is rehearsed beside it: changed and taken back there, untouched here."""
    competition, data, copy = practice(tmp_path), tmp_path / "data", tmp_path / "copy"
    with served("serve", str(competition), "--data", str(data), "--port", "0") as server:
        table = Sender(server.port, "table-a", server.key("scoring table"))
        table.start_heat()
        pad = Sender(server.port, "lane-1-a", server.key("lane pad 1"), lane=1)
        pad.say("rep_counted", lane=1, n=7, at_ms=5000)
        with served("rehearse", str(data), "--data", str(copy), "--port", "0"):
            said = asked("steer", copy, "what-if", "withdrawal", "1", "0:01").stdout
            assert b"plays at speed 1" in said
            asked("steer", copy, "to", "0:05")
            branched = exported(copy)
            asked("steer", copy, "to", "99:00", code=2)
        kept = exported(data)
        pad.close()
        table.close()
    assert [each["fact"] for each in kept] == ["heat_started", "rep_counted"]
    assert [each["fact"] for each in branched] == ["heat_started", "withdrawn"]


def test_several_recordings_are_one_show() -> None:
    """Played one after the other they end in the results of both; a heat that is in two of them is refused."""
    estuary = [SCENARIOS / f"estuary-{name}.ndjson" for name in ("sprints", "anchor")]
    done = run("rehearse", *estuary, "--speed", "1000", "--exit-at-end", "--port", "0")
    total = sum(len(each.read_bytes().splitlines()) for each in estuary)
    assert f"played {total} of {total} facts".encode() in done.stdout
    twice = run("rehearse", RECORDING, RECORDING, code=2)
    assert b"each heat in one of them" in twice.stderr


def test_links_say_https_with_a_certificate(tmp_path: Path) -> None:
    """With a certificate and its key every printed link is https, and the folder in use can be exported."""
    made = trustme.CA().issue_cert("127.0.0.1")
    certificate, key, data = tmp_path / "certificate.pem", tmp_path / "key.pem", tmp_path / "data"
    made.cert_chain_pems[0].write_to_path(str(certificate))
    made.private_key_pem.write_to_path(str(key))
    tls = ("--certificate", str(certificate), "--private-key", str(key))
    with served("serve", str(practice(tmp_path)), "--data", str(data), "--port", "0", *tls) as server:
        assert {link.partition("127.0.0.1:")[0] for link in server.links.values()} == {"https://"}
        assert b"Practice Trials" in asked("export", data).stdout


def test_a_killed_server_goes_on_from_its_mirror(tmp_path: Path) -> None:
    """After a kill and the loss of the data folder, links handed out before open the mirror, with every fact."""
    competition, data, mirror = practice(tmp_path), tmp_path / "data", tmp_path / "mirror"
    with served("serve", str(competition), "--data", str(data), "--mirror", str(mirror), "--port", "0") as server:
        key = server.key("scoring table")
        table = Sender(server.port, "table-a", key)
        for number in range(1, 6):
            table.say("count_corrected", lane=2, at_ms=number, scored_reps=number, reason="sheet")
        deadline = time.monotonic() + 20
        while b'"scored_reps":5' not in (mirror / "journal.sqlite-wal").read_bytes():
            assert time.monotonic() < deadline
            os.sched_yield()
        server.kill()
        table.close()
    shutil.rmtree(data)
    with served("serve", str(competition), "--data", str(mirror), "--port", "0") as server:
        assert Sender(server.port, "table-a", key).watermark == 5


def test_a_rehearsal_ends_with_the_program_that_started_it(tmp_path: Path) -> None:
    """Whoever starts it and is killed leaves nothing behind: the pipe to it closes, and it stops by itself."""
    options = ("--while-stdin", "--data", str(tmp_path / "data"), "--port", "0")
    with served_with("rehearse", *options, stdin=subprocess.PIPE) as server:
        assert server.process.poll() is None
        assert server.process.stdin is not None
        server.process.stdin.close()
        assert server.process.wait(timeout=20) == 0


def test_a_rehearsals_data_is_not_served_live(tmp_path: Path) -> None:
    """The journal of a rehearsal cannot be opened live by mistake."""
    data = tmp_path / "data"
    run("rehearse", "--speed", "1000", "--exit-at-end", "--port", "0", "--data", data)
    done = run("serve", COMPETITION, "--data", data, "--port", "0", code=3)
    assert b"rehearsal" in done.stderr


def test_cues_are_printed_as_documented() -> None:
    """The cues of the demo heat are the lines that stand in docs/cues.md."""
    printed = asked("cues", COMPETITION, RECORDING).stdout.decode()
    page = (SCENARIOS.parent / "docs" / "cues.md").read_text(encoding="utf-8")
    assert printed.strip()
    assert printed.strip() in page


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM], ids=["Ctrl-C", "terminated"])
def test_a_rehearsal_stops_without_a_word(tmp_path: Path, how: signal.Signals) -> None:
    """Stopped in the middle of its playback it ends with 0 and complains of nothing."""
    command = tallywire("rehearse", "--from", "9:00", "--port", "0", "--data", str(tmp_path / "data"))
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        while not process.stdout.readline().startswith("stop with"):
            assert process.poll() is None
        process.send_signal(how)
        _, said = process.communicate(timeout=20)
    assert (process.returncode, said) == (0, "")
