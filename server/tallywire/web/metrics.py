"""The figures in the Prometheus text format, made by its own library.

The library takes a third of the time that the whole server takes to start, and most servers are never asked: import
this when somebody asks.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import accumulate

from prometheus_client import CollectorRegistry, GCCollector, PlatformCollector, ProcessCollector
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, HistogramMetricFamily, Metric
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4, generate_latest
from prometheus_client.registry import Collector

from tallywire.core.facts import wire_name
from tallywire.shell.inside import Inside
from tallywire.shell.meters import BOUNDS_S, Timings

_BOUNDS = [*map(str, BOUNDS_S), "+Inf"]


class _Own(Collector):
    """Our figures as the library asks for them."""

    def __init__(self, at: Inside) -> None:
        self._at = at

    def collect(self) -> Iterator[Metric]:
        """Give every metric."""
        return _metrics(self._at)


def exposition(at: Inside) -> tuple[bytes, str]:
    """Give the text of all metrics now, the process's own among them, and its media type."""
    registry = CollectorRegistry()
    for collector in (ProcessCollector, PlatformCollector, GCCollector):
        collector(registry=registry)
    registry.register(_Own(at))
    return generate_latest(registry), CONTENT_TYPE_PLAIN_0_0_4


def _metrics(at: Inside) -> Iterator[Metric]:
    yield from _counts(at)
    yield from _levels(at)
    yield from _timings(at)


def _counts(at: Inside) -> Iterator[Metric]:
    meters = at.meters
    facts = {wire_name(kind): count for kind, count in meters.facts.items()}
    yield _counter("facts", "Facts taken since the start, by kind.", "kind", facts)
    yield _counter("facts_refused", "Facts refused since the start, by code.", "code", meters.refused)
    yield _counter("frames_sent", "Frames sent to clients, by view.", "view", meters.frames)
    yield _counter("frame_bytes_sent", "Bytes of frames sent to clients, by view.", "view", meters.bytes)
    yield _counter("helper_ended", "Processes of the helper that ended, by why.", "why", at.helper.ended)
    yield _counter("clients_let_go", "Clients cut off because they did not read.", "", {"": meters.let_go})


def _levels(at: Inside) -> Iterator[Metric]:
    plain = {
        "clients": ("Websocket connections.", at.clients),
        "clients_slow": ("Clients that read too slowly just now.", at.meters.slow),
        "journal_lines": ("Lines in the journal.", at.lines),
        "journal_waiting": ("Facts that wait to be written.", at.waiting),
        "journal_held": ("1 while the journal takes nothing.", int(at.storage.state == "held")),
        "journal_epoch": ("The epoch of the journal's writer on Redis.", at.epoch),
        "edge_behind_seconds": (
            "How far this edge is behind the writer.",
            None if at.edge_behind_ms is None else at.edge_behind_ms / 1000,
        ),
        "helper_away": ("1 while the helper process is not there.", int(at.helper.state == "away")),
        "helper_memory_bytes": ("Memory of the helper process.", at.helper_memory),
        "disk_free_bytes": ("Free room on the disk of the journal.", at.disk_free),
    }
    for name, (words, value) in plain.items():
        if value is not None:
            yield _gauge(name, words, "", {"": value})
    yield _gauge("watching", "Views watched by clients that keep up, by view.", "view", at.watching)
    yield _gauge("background_behind_seconds", "How old a background view is, by view.", "view", at.behind_s)


def _timings(at: Inside) -> Iterator[Metric]:
    meters = at.meters
    named = {
        "answer": ("From a message with facts to its acknowledgement.", meters.answers),
        "commit": ("From a group of facts to its being durable.", meters.commits),
        "counting": ("From durable facts to their acknowledgements and frames.", meters.counting),
        "publishing": ("Making and sending all frames of one time.", meters.publishing),
        "loop_late": ("How late the event loop comes to what it planned.", meters.late),
    }
    for name, (words, timings) in named.items():
        yield _histogram(f"{name}_seconds", words, {"": timings}, "")
    yield _histogram("background_seconds", "Working out a background view, by view.", meters.background, "view")


def _counter(name: str, words: str, label: str, values: Mapping[str, float]) -> Metric:
    return _filled(CounterMetricFamily(f"tallywire_{name}", words, labels=[label] if label else []), label, values)


def _gauge(name: str, words: str, label: str, values: Mapping[str, float]) -> Metric:
    return _filled(GaugeMetricFamily(f"tallywire_{name}", words, labels=[label] if label else []), label, values)


def _filled(
    made: CounterMetricFamily | GaugeMetricFamily, label: str, values: Mapping[str, float]
) -> CounterMetricFamily | GaugeMetricFamily:
    for value_of, value in values.items():
        made.add_metric([value_of] if label else [], value)
    return made


def _histogram(name: str, words: str, timed: Mapping[str, Timings], label: str) -> Metric:
    made = HistogramMetricFamily(f"tallywire_{name}", words, labels=[label] if label else [])
    for value_of, timings in timed.items():
        # Each bucket of the format holds those below it too.
        buckets = [(bound, float(count)) for bound, count in zip(_BOUNDS, accumulate(timings.buckets), strict=True)]
        made.add_metric([value_of] if label else [], buckets, timings.total_s)
    return made
