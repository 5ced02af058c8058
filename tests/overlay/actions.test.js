import assert from "node:assert/strict";
import { test } from "node:test";
import { formatOf } from "../../overlay/formats/registry.js";
import { draftOf, HEAT_ACTIONS, LANE_ACTIONS, laneActions, openActions, readFields, whyNot } from "../../overlay/table/actions.js";
import { wordsFor } from "../../overlay/table/log.js";
import { dayText, lateMs, lateText } from "../../overlay/shared/day.js";
import { touchesIn } from "../../overlay/table/recall.js";
import { inTheWay, sheetsOf } from "../../overlay/table/sheets.js";
import { frameOf } from "./events.js";

const frame = frameOf({ 4: { done: 7 } });
const context = { frame, clockMs: 65_000, unixMs: 1_800_000_000_000.4, lane: frame.lanes[4] };

/** The fact that an action makes of what stands in its fields, at first or as given. */
function made(action, texts = {}) {
  const start = Object.fromEntries(action.fields.map((field) => [field.name, field.start?.(context) ?? ""]));
  const read = readFields(action, { ...start, ...texts });
  return "values" in read ? draftOf(action, read.values, context, "f1") : read;
}

test("the heat starts at 0:00 on the server's clock, the moment yes is pressed", () => {
  const { lane: _, ...heat } = context;
  const fact = draftOf(HEAT_ACTIONS.start, { ago: 0 }, heat, "f1");
  assert.deepEqual(fact, { fact: "heat_started", id: "f1", heat: "h1", at_ms: 0, unix_ms: 1_800_000_000_000 });
});

test("a call offers the heat looked at while it waits, else the first of the day that has not started", () => {
  const day = (...statuses) => statuses.map((status, index) => ({ id: `h${index + 1}`, name: "Women", title: `Event ${index} · Women`, status }));
  const on = (heats, id, floor, open) => ({ ...context, lane: undefined, frame: { ...frame, heats, floor, open, heat: { id, name: "Women", status: heats.find((each) => each.id === id).status } } });
  const call = (each) => whyNot(HEAT_ACTIONS.call, each) ?? draftOf(HEAT_ACTIONS.call, {}, each, "f1").heat;
  const cases = [
    on(day("waiting", "waiting"), "h1", "h1", false), // a fresh server
    on(day("over", "waiting"), "h1", "h1", true),
    on(day("waiting", "over"), "h2", "h2", true), // the first was left out
    on(day("running", "waiting"), "h1", "h1", true),
    on(day("over", "waiting"), "h2", "h1", false),
    on(day("over", "over"), "h2", "h2", true),
  ];
  assert.deepEqual(cases.map(call), ["h1", "h2", "h1", "This heat is running", "h2", "No heat is left to call"]);
  assert.equal(HEAT_ACTIONS.call.title(cases[1]), "Call Event 1 · Women to the floor?");
  assert.deepEqual(draftOf(HEAT_ACTIONS.call, {}, cases[1], "f1"), { fact: "heat_called", id: "f1", heat: "h2", at_ms: 0, unix_ms: 1_800_000_000_000 });
  assert.equal(draftOf(HEAT_ACTIONS.call, {}, cases[4], "f1").at_ms, 65_000);
});

test("a false start names the start; touches that name none are struck where they stand, of this heat alone", () => {
  const running = { ...frame, start_id: "s1" };
  assert.equal(made(HEAT_ACTIONS.recall).reason, "false start");
  assert.equal(draftOf(HEAT_ACTIONS.recall, { reason: "x" }, { ...context, lane: undefined, frame: running }, "f1").recalls, "s1");
  assert.match(whyNot(HEAT_ACTIONS.recall, { ...context, may: ["fact_voided"] }), /scoring table/);
  const named = (action) => draftOf(action, {}, { ...context, frame: running }, "f1").start;
  assert.deepEqual([HEAT_ACTIONS.end, LANE_ACTIONS.correct, LANE_ACTIONS.finish, LANE_ACTIONS.penalty].map(named), ["s1", "s1", "s1", undefined]);
  const lines = [
    { fact: "rep_counted", id: "a", heat: "h1", lane: 4 },
    { fact: "rep_counted", id: "b", heat: "h1", lane: 4 },
    { fact: "fact_voided", id: "c", heat: "h1", lane: 4, voids: "b" },
    { fact: "rep_counted", id: "d", heat: "h2", lane: 4 },
    { fact: "hold_placed", id: "e", heat: "h1", lane: 4 },
    { fact: "rep_counted", id: "f", heat: "h1", lane: 4, start: "s1" },
  ];
  assert.deepEqual(touchesIn(lines.map((line) => JSON.stringify(line)).join("\n"), "h1"), [{ lane: 4, fact: "a" }]);
});

test("a day is as late as its last start, or as the next one is overdue; another day says nothing", () => {
  const MIN = 60_000;
  const ran = (start, started) => ({ id: "a", name: "A", event: "e", status: "over", start_unix_ms: start, started_unix_ms: started });
  const next = (start) => ({ id: "b", name: "B", event: "e", title: "E · B", status: "waiting", start_unix_ms: start });
  const cases = [[ran(0, 12 * MIN), next(30 * MIN)], [ran(0, 0), next(30 * MIN)], [ran(0, 0)], [next(30 * MIN)], [ran(0, 9 * MIN), next(24 * 60 * MIN)]];
  assert.deepEqual(cases.map((heats) => lateMs(heats, 20 * MIN)), [12 * MIN, 0, 0, undefined, undefined]);
  assert.equal(lateMs(cases[1], 45 * MIN), 15 * MIN);
  assert.deepEqual([lateText(12.9 * MIN), lateText(-3 * MIN), lateText(30_000), lateText(undefined)], ["12 min late", "3 min early", "on time", ""]);
  assert.match(dayText(cases[0], 0, 1), /^12 min late · Next: \d\d:30 E · B$/);
});

test("in a relay the table may pass the turn, and it offers the next member", () => {
  const relay = { ...frame, event: { ...frame.event, team: { form: "relay", size: 2 } } };
  const asked = { ...context, frame: relay, lane: { ...context.lane, member: 2 } };
  assert.equal(LANE_ACTIONS.exchange.when(context), false);
  assert.equal(LANE_ACTIONS.exchange.when(asked), true);
  assert.equal(LANE_ACTIONS.exchange.fields[0].start(asked), "1");
});

test("a deduction of no points is not taken", () => {
  assert.equal(made(LANE_ACTIONS.deduct, { points: "0", reason: "conduct" }).field, "points");
  assert.equal(made(LANE_ACTIONS.deduct, { points: "5", reason: "conduct" }).points, 5);
});

test("a signal that was earlier moves the start back", () => {
  assert.equal(made(HEAT_ACTIONS.start, { ago: "12" }).unix_ms, 1_799_999_988_000);
});

test("a correction begins with the number that stands and carries its reason", () => {
  assert.equal(LANE_ACTIONS.correct.fields[0].start(context), "4");
  assert.deepEqual(made(LANE_ACTIONS.correct, { scored_reps: "6", reason: " scoresheet " }), {
    fact: "count_corrected", id: "f1", heat: "h1", lane: 4, at_ms: 65_000, scored_reps: 6, reason: "scoresheet",
  });
});

test("a correction without a reason, or with no number, is not taken", () => {
  assert.equal(made(LANE_ACTIONS.correct).field, "reason");
  for (const text of ["", "-1", "4.5", "many", "1234567"]) {
    assert.equal(made(LANE_ACTIONS.correct, { scored_reps: text, reason: "x" }).field, "scored_reps");
  }
});

test("a finish is called at the time in the field", () => {
  assert.equal(made(LANE_ACTIONS.finish).at_ms, 65_000);
  assert.equal(made(LANE_ACTIONS.finish, { at_ms: "1:02.5" }).at_ms, 62_500);
  assert.match(made(LANE_ACTIONS.finish, { at_ms: "62.5" }).problem, /Found "62.5", expected a time/);
});

test("a withdrawal may go without a reason, and then carries none", () => {
  assert.equal("reason" in made(LANE_ACTIONS.withdraw), false);
  assert.equal(made(LANE_ACTIONS.withdraw, { reason: "injury" }).reason, "injury");
});

test("a penalty takes reps or seconds, but not neither", () => {
  const fact = made(LANE_ACTIONS.penalty, { seconds: "30", reason: "lane fault" });
  assert.deepEqual([fact.reps, fact.ms, "seconds" in fact], [0, 30_000, false]);
  assert.match(made(LANE_ACTIONS.penalty, { reason: "x" }).problem, /above 0/);
});

test("a reason is cut at the two hundred characters that a fact may hold", () => {
  assert.equal(made(LANE_ACTIONS.disqualify, { reason: "x".repeat(300) }).reason.length, 200);
});

test("every action has words of its own for the list of what was done", () => {
  for (const action of [...Object.values(HEAT_ACTIONS), ...Object.values(LANE_ACTIONS)]) {
    assert.notEqual(wordsFor({ fact: action.fact, reason: "r", by: "b" }), action.fact);
  }
});

test("the list says whom it was about and why", () => {
  assert.equal(wordsFor(made(LANE_ACTIONS.correct, { scored_reps: "6", reason: "scoresheet" })), "lane 4: count set to 6: scoresheet");
  assert.equal(wordsFor(made(LANE_ACTIONS.penalty, { reps: "2", seconds: "5", reason: "r" })), "lane 4: penalty −2 reps, +5 s: r");
});

test("what can be done to a heat follows from how far it is", () => {
  const open = (status, stage) => {
    const heat = { ...frame.heat, status };
    const result = { stage, digest: "d", unchecked: [], changed: false, ...(stage === "official" ? { signed_by: "Hedda" } : {}) };
    return openActions(HEAT_ACTIONS, { ...context, frame: { ...frame, floor: heat.id, heat, result } }).map(([name]) => name);
  };
  assert.deepEqual(open("waiting", "live"), ["start"]);
  assert.deepEqual(open("running", "live"), ["recall", "end"]);
  assert.deepEqual(open("over", "live"), ["recall", "sign"]);
  assert.deepEqual(open("over", "provisional"), ["recall", "sign"]);
  assert.deepEqual(open("over", "official"), []);
  const why = (name, status) => whyNot(HEAT_ACTIONS[name], { ...context, frame: { ...frame, floor: "h1", heat: { ...frame.heat, status } } });
  assert.deepEqual([why("start", "running"), why("sign", "running"), why("end", "over")], ["The heat has started", "The heat is not over", "The heat is over"]);
  assert.match(whyNot(HEAT_ACTIONS.end, { ...context, may: ["heat_signed"] }), /link may not/);
});

test("a signature names what was signed", () => {
  const result = { stage: "provisional", digest: "0123456789abcdef", unchecked: [], changed: false };
  const fact = draftOf(HEAT_ACTIONS.sign, { by: "Head judge" }, { ...context, lane: undefined, frame: { ...frame, result } }, "f1");
  assert.deepEqual([fact.by, fact.digest], ["Head judge", "0123456789abcdef"]);
});

test("a hold is offered where there is none, its release where there is one, a checked sheet not again", () => {
  const open = (lane) => openActions(LANE_ACTIONS, { ...context, lane: { ...context.lane, ...lane } }).map(([name]) => name);
  assert.ok(open({}).includes("hold") && !open({}).includes("release"));
  assert.ok(open({ held: true }).includes("release") && !open({ held: true }).includes("hold"));
  assert.ok(open({}).includes("sheet") && !open({ checked: true }).includes("sheet"));
});

test("lifts are judged only where the event is a lift, with the load as people write it", () => {
  const lift = { ...frame, event: { ...frame.event, format: "max_load" } };
  const { declare } = laneActions(lift);
  assert.deepEqual([laneActions(frame), laneActions(lift)].map((actions) => "made" in actions), [false, true]);
  assert.equal(made(declare, { load_milli: "82.5" }).load_milli, 82_500);
  assert.match(made(declare, { load_milli: "heavy" }).problem, /expected a load/);
});

test("a tick holds for the result it was given to, and the signature waits for every sheet and a name", () => {
  const over = { ...frameOf({ 4: { done: 7 }, 5: {}, 6: { status: "did_not_start" } }), result: { stage: "live", digest: "d", unchecked: [4, 5], changed: false } };
  const [first] = sheetsOf(over, new Map());
  assert.deepEqual(sheetsOf(over, new Map([[4, first.text]])).map(({ kept, ticked }) => [kept, ticked]), [[false, true], [false, false], [true, false]]);
  assert.equal(inTheWay(sheetsOf(over, new Map([[4, first.text]])), "Hedda"), "Tick what agrees first: lane 5");
  const later = { ...over, lanes: { ...over.lanes, 4: { ...over.lanes[4], done: 8 } } };
  assert.equal(sheetsOf(later, new Map([[4, first.text]]))[0].ticked, false);
  const compared = sheetsOf({ ...over, result: { ...over.result, unchecked: [] } }, new Map());
  assert.deepEqual([inTheWay(compared, " "), inTheWay(compared, "Hedda")], ["Write who signs", ""]);
});

test("an appeal says who decided what, and how", () => {
  const fact = made(LANE_ACTIONS.dismissed, { by: "Head judge", reason: "no video" });
  assert.deepEqual([fact.by, fact.reason, fact.upheld], ["Head judge", "no video", false]);
});

test("a row has a correction and the finish at hand, in a lift the declaration and a good lift", () => {
  const lift = { ...frame, event: { ...frame.event, format: "max_load" } };
  const amrap = { ...frame, event: { ...frame.event, format: "amrap" } };
  const atHand = [frame, lift, amrap].map(({ event }) => formatOf(event).table.atHand);
  assert.deepEqual(atHand, [["correct", "finish"], ["declare", "made"], ["correct", "penalty"]]);
  assert.equal("finish" in laneActions(amrap), false);
  const names = openActions(laneActions(lift), { ...context, frame: lift }).map(([name]) => name);
  assert.deepEqual(["declare", "made", "failed", "correct", "finish"].map((name) => names.includes(name)), [true, true, true, false, false]);
});
