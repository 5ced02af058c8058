"""How much work a page does for each picture, from Chromium's own trace, and the updates that make it work.

The page's websocket is replaced inside the page by one that says ready-made patches at a rate, so that nothing but the
page is measured. Times are processor time of the page's main thread: what other processes do meanwhile is not in them.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from playwright.sync_api import Browser, Page

from pages.heats import Frame, Scene, frame
from tallywire.wire.merge_patch import diff

LANES = 20
RATE = 25
"""Updates a second."""
_STEPS = 60
_STEP_MS = 1_600
"""How far the heat goes from one update to the next: most of twenty lanes have done something."""
_WORK = {
    "FunctionCall",
    "EvaluateScript",
    "TimerFire",
    "FireAnimationFrame",
    "RunMicrotasks",
    "EventDispatch",
    "UpdateLayoutTree",
    "Layout",
    "MinorGC",
    "MajorGC",
}
_STYLE = {"UpdateLayoutTree", "Layout"}
_SCRIPT = {"FunctionCall", "TimerFire", "FireAnimationFrame", "EventDispatch"}

_SOCKET = r"""
(() => {
  const { frame, bodies, everyMs } = window.__motion;
  const state = (window.motion = { sent: 0, most: 0, everyMs });
  let number = 1;
  window.WebSocket = class {
    constructor() { setTimeout(() => this.onopen?.({})); }
    say(message) { this.onmessage?.({ data: message }); }
    send(text) {
      const { type, view, heat, t1 } = JSON.parse(text);
      if (type === "hello") this.say('{"type":"welcome","role":"viewer","mode":"live","speed":1}');
      if (type === "ping") this.say(`{"type":"pong","t1":${t1},"t2":${Date.now()},"t3":${Date.now()}}`);
      if (type !== "watch") return;
      const named = `"view":"${view}","heat":"${heat}","epoch":"m"`;
      const head = (kind) => `{"type":"${kind}",${named},"number":${number},"unix_ms":${Date.now()},`;
      const moves = view !== "subjects" && view !== "show";
      this.say(`${head("snapshot")}"frame":${moves ? frame : "{}"}}`);
      if (!moves) return;
      const next = () => {
        if (state.sent < state.most) {
          number += 1;
          this.say(`${head("patch")}"patch":${bodies[state.sent % bodies.length]}}`);
          state.sent += 1;
        }
        setTimeout(next, state.everyMs);
      };
      next();
    }
    close() {}
  };
})();
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What some updates cost, in milliseconds of the main thread: each picture, the longest task, forced layouts."""

    pictures: Sequence[float]
    longest_task: float
    forced: int

    def percentile(self, share: float) -> float:
        """Give the cost that so large a share of the pictures stays within."""
        ordered = sorted(self.pictures)
        return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def moving_frames() -> tuple[Frame, list[Frame]]:
    """Give a first frame and the patches that lead through a heat of twenty and back to its beginning."""
    frames = [frame(Scene(lanes=LANES, clock_ms=200_000 + step * _STEP_MS)) for step in range(_STEPS)]
    for each in frames:
        each["clock"] = frames[0]["clock"]
    return frames[0], [diff(one, two) or {} for one, two in zip(frames, [*frames[1:], frames[0]], strict=True)]


def open_moving(browser: Browser, link: str, *, every_ms: float = 1000 / RATE) -> Page:
    """Open a page on which updates come once `send` has said how many."""
    first, patches = moving_frames()
    page = browser.new_page(viewport={"width": 1920, "height": 1080}, reduced_motion="no-preference")
    given = {"frame": json.dumps(first), "bodies": [json.dumps(each) for each in patches], "everyMs": every_ms}
    page.add_init_script(f"window.__motion = {json.dumps(given)};{_SOCKET}")
    page.goto(link)
    page.wait_for_function(f"() => document.querySelectorAll('[data-part=row]').length === {LANES}")
    page.evaluate("() => document.fonts.ready")
    return page


def send(page: Page, updates: int) -> None:
    """Let so many more updates come and wait for them."""
    page.evaluate("(more) => { motion.most += more; }", updates)
    page.wait_for_function("() => motion.sent >= motion.most", timeout=900_000)


def traced(browser: Browser, page: Page, updates: int) -> Work:
    """Send updates under Chromium's trace."""
    categories = ["devtools.timeline", "disabled-by-default-devtools.timeline", "toplevel", "v8"]
    browser.start_tracing(page=page, categories=categories)
    send(page, updates)
    events: list[dict[str, Any]] = json.loads(browser.stop_tracing())["traceEvents"]
    return work_of(events)


def heap_bytes(page: Page) -> int:
    """Give what the page's script holds after a full collection."""
    session = page.context.new_cdp_session(page)
    session.send("HeapProfiler.collectGarbage")
    session.send("HeapProfiler.collectGarbage")
    used: int = session.send("Runtime.getHeapUsage")["usedSize"]
    session.detach()
    return used


def work_of(events: Iterable[dict[str, Any]]) -> Work:
    """Add up what a trace says of the thread that animates the page."""
    timed = [each for each in events if each.get("ph") == "X" and "tts" in each]
    threads = [(each["pid"], each["tid"]) for each in timed if each["name"] == "FireAnimationFrame"]
    main = max(set(threads), key=threads.count)
    own = sorted((each for each in timed if (each["pid"], each["tid"]) == main), key=lambda each: each["ts"])
    ends = [each["tts"] for each in own if each["name"] == "Commit"]
    return Work(
        pictures=_by_picture(_joined(own, _WORK), ends),
        longest_task=max((each.get("tdur", 0) for each in own if each["name"].endswith("RunTask")), default=0) / 1000,
        forced=_forced(own),
    )


def _joined(events: Sequence[dict[str, Any]], names: set[str]) -> list[tuple[int, int]]:
    """Give the stretches of thread time in which something of these names runs, each once however it is nested."""
    found: list[tuple[int, int]] = []
    for each in events:
        if each["name"] not in names:
            continue
        start, end = each["tts"], each["tts"] + each.get("tdur", 0)
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((start, end))
    return found


def _by_picture(stretches: Sequence[tuple[int, int]], ends: Sequence[int]) -> list[float]:
    """Give the work between one picture that is handed on to be drawn and the next."""
    return [
        sum(stop - start for start, stop in stretches if begin <= start < end) / 1000 for begin, end in pairwise(ends)
    ]


def _forced(events: Sequence[dict[str, Any]]) -> int:
    """Count the layouts and styles worked out in the middle of a script: it wrote, and then it read."""
    count, until = 0, -1
    for each in events:
        if each["name"] in _SCRIPT:
            until = max(until, each["ts"] + each.get("dur", 0))
        elif each["name"] in _STYLE and each["ts"] + each.get("dur", 0) <= until:
            count += 1
    return count
