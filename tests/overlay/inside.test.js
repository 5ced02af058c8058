import assert from "node:assert/strict";
import { test } from "node:test";

import { groupsOf } from "../../overlay/inside/figures.js";

/** @type {import("../../overlay/inside/figures.js").Figures} */
const FIGURES = {
  version: "0.1.0",
  wrong: [],
  competition: "Test Trials",
  mode: "live",
  up_s: 7265,
  journal: { state: "ok", lines: 12_345, waiting: 3 },
  clients: 40,
  watching: { heat: 30, call: 2 },
  slow: 1,
  let_go: 2,
  facts: { no_rep_called: 7, rep_counted: 1200 },
  refused: { not_allowed: 1 },
  frames: 5000,
  bytes: 2_500_000,
  recent: {
    answers: { count: 100, half_ms: 4.5, most_ms: 12 },
    commits: { count: 0 },
    counting: { count: 0 },
    publishing: { count: 0 },
    late: { count: 0 },
  },
  background_behind_s: { call: 0.25 },
  helper: { where: "process", state: "working", ended: {} },
};

test("how long it runs is said in what a person counts in", () => {
  const said = [9, 60, 3599, 3600, 7265].map((up_s) => new Map(groupsOf({ ...FIGURES, up_s }).get("Machine")).get("Running for"));
  assert.deepEqual(said, ["9 s", "1 min", "59 min", "1 h 0 min", "2 h 1 min"]);
});

test("every figure that is known stands in its group, the commonest kind of fact first", () => {
  const groups = groupsOf(FIGURES);
  assert.deepEqual([...groups.keys()], ["Facts", "Journal", "Pictures", "Machine"]);
  assert.deepEqual(groups.get("Facts"), [
    ["Taken since the start", "1,207"],
    ["rep counted", "1,200"],
    ["no rep called", "7"],
    ["Refused", "1"],
    ["not allowed", "1"],
    ["Answer, from the message", "4.5 ms, 1 in 100: 12 ms"],
  ]);
  assert.deepEqual(groups.get("Journal")?.at(-1), ["Until durable", "none"]);
  assert.ok(groups.get("Pictures")?.some(([name, value]) => name === "Frames sent" && value === "5,000, 2.5 MB"));
  const named = new Map(groupsOf({ ...FIGURES, watching: { next: 4 }, background_behind_s: { call: 2 } }).get("Pictures"));
  assert.deepEqual([named.get("Watch: next heat"), named.get("Behind the count: call")], ["4", "2 s"]);
});

test("what only some servers have is shown by those", () => {
  const names = (/** @type {import("../../overlay/inside/figures.js").Figures} */ figures) => [...groupsOf(figures).values()].flat().map(([name]) => name);
  const more = { epoch: 4, behind_ms: 1500, memory: 98_000_000, disk_free: 12_000_000_000 };
  const own = names({ ...FIGURES, ...more }).filter((name) => !names(FIGURES).includes(name));
  assert.deepEqual(own, ["Epoch of the writer", "Behind the writer", "Memory", "Free on the journal's disk"]);
});
