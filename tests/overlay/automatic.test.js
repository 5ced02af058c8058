import assert from "node:assert/strict";
import { test } from "node:test";

import { Automatic, CARD_MS, RUN_IN_MS, STALE_MS, YIELD_MS } from "../../overlay/desk/automatic.js";
import { frameOf, laneOf } from "./frames.js";

const HOME = { status: "finished", finish_ms: 600_000, reached_ms: 600_000, result: "10:00.000" };
const heat = (...home) => frameOf([1, 2, 3].map((lane) => laneOf(lane, home.includes(lane) ? { ...HOME, reached_ms: 600_000 + lane } : {})));
const finish = (lane) => ({ view: "finish", params: { who: `lane:${lane}` } });
const TRACK = { view: "track", params: {} };

/** One output and a desk that does what it is told. */
function stage(automatic = "take", programme = undefined) {
  const rules = new Automatic();
  const output = { automatic, delay_ms: 0, rundown: [], programme: undefined, changed: undefined };
  const acts = [];
  let number = 0;
  const on = (item, by, unix_ms) => {
    number += 1;
    output.programme = item && { ...item, id: `t${number}`, by };
    output.changed = { id: `t${number}`, by, unix_ms };
  };
  if (programme) on(programme, "operator", -10 * YIELD_MS);
  const look = (nowMs, frame, clockMs = 300_000) => {
    const { proposals, act } = rules.step({ frame, clockMs, output, nowMs });
    if (act) acts.push(act);
    if (act) on(act.take, "automatic", nowMs);
    return proposals.map(({ key }) => key);
  };
  return { rules, output, acts, on, look };
}

test("off, nothing is proposed or taken", () => {
  const { look, acts } = stage("off");
  look(0, heat());
  assert.deepEqual([look(100, heat(1)), acts], [[], []]);
});

test("it proposes a card for each who comes in, in their order, and takes none", () => {
  const { look, acts } = stage("propose");
  look(0, heat(3));
  assert.deepEqual(look(100, heat(3, 2, 1)), ["finish 1", "finish 2"]);
  assert.deepEqual(acts, []);
});

test("taking, each card stays its time, and then what was on before comes back", () => {
  const { look, acts } = stage("take", TRACK);
  look(0, heat());
  look(100, heat(1, 2));
  look(200 + CARD_MS / 2, heat(1, 2));
  assert.deepEqual(acts, [{ take: finish(1) }]);
  look(100 + CARD_MS, heat(1, 2));
  assert.deepEqual(acts.slice(1), [{ take: finish(2) }]);
  look(100 + 2 * CARD_MS, heat(1, 2));
  assert.deepEqual(acts.slice(2), [{ take: TRACK }]);
  assert.deepEqual(look(100 + 3 * CARD_MS, heat(1, 2)), []);
  assert.equal(acts.length, 3);
});

test("on a clear output it clears again after the card", () => {
  const { look, acts } = stage();
  look(0, heat());
  look(100, heat(1));
  look(100 + CARD_MS, heat(1));
  assert.deepEqual(acts, [{ take: finish(1) }, { clear: true }]);
});

test("what the operator puts on during a card stays, and nothing is taken for a while", () => {
  const { look, acts, on } = stage();
  look(0, heat());
  look(100, heat(1));
  on(TRACK, "operator", 1000);
  look(1100, heat(1, 2));
  look(1000 + YIELD_MS - 1, heat(1, 2));
  assert.deepEqual(acts, [{ take: finish(1) }]);
  look(1000 + YIELD_MS, heat(1, 2));
  look(1000 + YIELD_MS + CARD_MS, heat(1, 2));
  assert.deepEqual(acts.slice(1), [{ take: finish(2) }, { take: TRACK }]);
});

test("a clear by the operator is not undone", () => {
  const { look, acts, on } = stage("take", TRACK);
  look(0, heat());
  look(100, heat(1));
  on(undefined, "operator", 500);
  look(100 + CARD_MS, heat(1));
  look(100 + 10 * CARD_MS, heat(1));
  assert.deepEqual(acts, [{ take: finish(1) }]);
});

test("a finish that could not be shown for long is no news any more", () => {
  const { look } = stage("propose");
  look(0, heat());
  assert.deepEqual(look(100, heat(1)), ["finish 1"]);
  assert.deepEqual(look(100 + STALE_MS, heat(1)), []);
});

test("a finish that was taken back is not proposed, and is news again when it comes again", () => {
  const { look } = stage("propose");
  look(0, heat());
  look(100, heat(1));
  assert.deepEqual(look(200, heat()), []);
  assert.deepEqual(look(300, heat(1)), ["finish 1"]);
});

test("the run-in comes in the last two minutes, lets a card pass, and goes with the heat", () => {
  const { look, acts } = stage("take", TRACK);
  const cap = heat().clock.cap_ms;
  look(0, heat(), cap - RUN_IN_MS - 1);
  assert.deepEqual(acts, []);
  look(100, heat(), cap - RUN_IN_MS);
  look(200, heat(1), cap - RUN_IN_MS + 100);
  look(200 + CARD_MS, heat(1), cap - 50_000);
  const over = { ...heat(1), heat: { ...heat().heat, status: "over" } };
  look(300 + CARD_MS, over, cap);
  const runIn = { take: { view: "runin", params: {} } };
  assert.deepEqual(acts, [runIn, { take: finish(1) }, runIn, { take: TRACK }]);
});

test("an act that has not shown yet is not done twice, and is given up when it is lost", () => {
  const rules = new Automatic();
  const output = { automatic: "take", delay_ms: 0, rundown: [] };
  const at = (nowMs, ...home) => rules.step({ frame: heat(...home), clockMs: 1, output, nowMs }).act;
  at(0);
  assert.deepEqual(at(100, 1), { take: finish(1) });
  assert.equal(at(200, 1, 2), undefined);
  assert.deepEqual(at(100 + CARD_MS, 1, 2), { take: finish(2) });
});

test("a proposal that was dropped does not come again", () => {
  const { look, rules } = stage("propose");
  look(0, heat());
  look(100, heat(1, 2));
  rules.drop("finish 1");
  assert.deepEqual(look(200, heat(1, 2)), ["finish 2"]);
});

test("another heat begins anew: a lane that is home in it already is no news", () => {
  const { look } = stage("propose");
  look(0, heat());
  look(100, heat(1));
  const next = { ...heat(2), heat: { ...heat().heat, id: "h2" } };
  assert.deepEqual(look(200, next), []);
});
