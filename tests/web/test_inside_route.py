"""How the server runs: metrics, figures, readiness. The metrics are read by the Prometheus client's own parser."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from prometheus_client.parser import text_string_to_metric_families

from core.samples import Pad
from tallywire.shell.storage import HELD
from tallywire.wire.catalogue import catalogue
from web.site import WATCH, Site, site
from wire.talk import facts, hello

TABLE = {"Authorization": "Bearer table-key"}


@pytest.fixture(name="server")
def _server() -> Iterator[Site]:
    with site() as made:
        yield made


def samples(server: Site) -> dict[tuple[str, tuple[tuple[str, str], ...]], float]:
    """Every sample of the metrics, by name and labels."""
    answer = server.client.get("/metrics", headers=TABLE)
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/plain; version=0.0.4")
    families = text_string_to_metric_families(answer.text)
    return {
        (each.name, tuple(sorted(each.labels.items()))): each.value for family in families for each in family.samples
    }


def test_metrics_count_what_came_and_went(server: Site) -> None:
    """Facts by kind, what was refused and why, answers, frames and bytes by view, and who watches."""
    pad = Pad("lane-1-a", 1)
    with server.wire(hello("lane-1-a"), {**WATCH, "heat": "heat"}) as talk:
        for fact in (pad.reps(1), pad.reps(2), pad.no_rep(3), replace(pad.reps(4), lane=2)):
            talk.say(facts(fact))
            talk.hear_until("acknowledged")
        found = samples(server)
    assert found["tallywire_facts_total", (("kind", "rep_counted"),)] == 2
    assert found["tallywire_facts_total", (("kind", "no_rep_called"),)] == 1
    assert found["tallywire_facts_refused_total", (("code", "not_allowed"),)] == 1
    assert found["tallywire_answer_seconds_count", ()] == 4
    assert found["tallywire_journal_lines", ()] == 4
    assert found["tallywire_watching", (("view", "heat"),)] == 1
    assert found["tallywire_frames_sent_total", (("view", "heat"),)] >= 1
    assert found["tallywire_frame_bytes_sent_total", (("view", "heat"),)] > 50
    assert found["process_resident_memory_bytes", ()] > 1_000_000


def test_the_buckets_of_a_histogram_add_up(server: Site) -> None:
    """Each holds those below it, and the last one everything (OpenMetrics 1.0, histogram)."""
    with server.wire(hello("lane-1-a"), facts(Pad("lane-1-a", 1).reps(1))) as talk:
        talk.hear_until("acknowledged")
    found = samples(server)
    for name in ("answer", "commit", "counting"):
        buckets = {
            float(labels[0][1]): value
            for (each, labels), value in found.items()
            if each == f"tallywire_{name}_seconds_bucket"
        }
        ordered = [buckets[bound] for bound in sorted(buckets)]
        assert ordered == sorted(ordered)
        assert ordered[-1] == found[f"tallywire_{name}_seconds_count", ()] == 1
        assert found[f"tallywire_{name}_seconds_sum", ()] > 0


@pytest.mark.parametrize(
    ("path", "key", "status"),
    [
        ("/metrics", None, 401),
        ("/metrics", "wrong", 401),
        ("/metrics", "key-1", 200),
        ("/figures", None, 401),
        ("/figures", "key-1", 401),
        ("/figures", "table-key", 200),
        ("/ready", None, 200),
    ],
)
def test_who_may_look_inside(server: Site, path: str, key: str | None, status: int) -> None:
    """Any link of the crew reads metrics, the table reads figures, and anyone may ask whether it is ready."""
    headers = {"Authorization": f"Bearer {key}"} if key else {}
    assert server.client.get(path, headers=headers).status_code == status


def test_every_view_that_may_be_late_has_its_words(server: Site) -> None:
    """Of each background view the page can say that it is behind the count."""
    assert {f"said.{view}_{why}" for view in server.live.behind_s for why in ("new", "busy")} <= set(
        catalogue("en").texts
    )


def test_a_server_that_holds_facts_back_is_not_ready(server: Site) -> None:
    """The reason is given, in the figures as well; a moment later all is well again."""
    assert server.client.get("/ready").json() == {"ready": True}
    assert server.client.get("/figures", headers=TABLE).json()["wrong"] == []
    server.live.storage.now = HELD
    answer = server.client.get("/ready")
    assert answer.status_code == 503
    said = {"key": "disk_full", "values": {}}
    assert answer.json() == {"ready": False, "message": HELD.message, "reason": said}
    figures = server.client.get("/figures", headers=TABLE).json()
    assert figures["wrong"][0].startswith("The server's disk is full")
    assert figures["wrong_reasons"] == [said]


def test_the_figures_are_those_of_the_metrics(server: Site) -> None:
    """Both are made from one instant's numbers."""
    with server.wire(hello("lane-1-a"), {**WATCH, "heat": "heat"}, facts(Pad("lane-1-a", 1).reps(1))) as talk:
        talk.hear_until("acknowledged")
        figures = server.client.get("/figures", headers=TABLE).json()
        found = samples(server)
    assert figures["facts"] == {"rep_counted": 1}
    assert figures["watching"] == {"heat": 1}
    assert figures["frames"] == found["tallywire_frames_sent_total", (("view", "heat"),)]
    assert figures["journal"] == {"state": "ok", "lines": 1, "waiting": 0}
    assert figures["recent"]["answers"]["count"] == 1


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere nothing is said of memory")
def test_the_figures_say_the_memory_of_the_process(server: Site) -> None:
    """Within a tenth of what the system says at once after (proc(5), status, VmRSS in KiB)."""
    said = server.client.get("/figures", headers=TABLE).json()["memory"]
    [line] = [line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmRSS:")]
    assert said == pytest.approx(int(line.split()[1]) * 1024, rel=0.1)
