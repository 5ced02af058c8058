import assert from "node:assert/strict";
import { test } from "node:test";

import { choices, freshItem, itemText, pickSubject, refusal, subjectText } from "../../overlay/desk/items.js";
import { ACTIONS, Keys } from "../../overlay/desk/keys.js";
import { Digits, DIGITS_MS, Hand } from "../../overlay/desk/lines.js";
import { Sender } from "../../overlay/desk/sender.js";
import { memoryStorage } from "../../overlay/shared/queue.js";

const VIEWS = {
  heat: { title: "Heat standing", least: 0, most: 0 },
  athlete: { title: "One athlete", least: 1, most: 1 },
  duel: { title: "Two athletes", least: 2, most: 2 },
  pace: { title: "Pace chart", least: 1, most: 4 },
};
const SHOW = { competition: { name: "Cup" }, heats: { h2: { name: "Heat 2" } }, parts: { sprint: "First round" }, views: VIEWS, outputs: {} };
const SUBJECTS = {
  heat: { id: "h1", name: "Heat 1" },
  stage: "live",
  parts: [],
  subjects: { "lane:1": [1], "lane:2": [2], leader: [2], "battle:1": [2, 1] },
  held: [4],
  missing: { heat: { heat: "nobody is on a lane" }, athlete: { 1: "lane 1 withdrew" } },
};
const item = (view, who, more = {}) => ({ view, params: { ...(who ? { who } : {}), ...more } });

test("items are said in words", () => {
  assert.equal(itemText(item("duel", "leader,lane:4", { heat: "h2" }), SHOW), "Two athletes · the leader and lane 4 · Heat 2");
  assert.equal(itemText(item("heat"), SHOW), "Heat standing");
  assert.deepEqual(["battle:3@men", "place:2", "fastest"].map(subjectText), ["the battle for 3 (men)", "place 2", "the fastest now"]);
});

test("a refusal is said before the take: for the view, for a subject that is nobody, for a hold, for a lane's own reason", () => {
  const told = [["heat"], ["athlete", "lane:1"], ["athlete", "lane:2"], ["athlete", "lane:4"], ["athlete", "lane:9"], ["athlete", "fastest"]];
  assert.deepEqual(told.map(([view, who]) => refusal(item(view, who), SHOW, SUBJECTS)), [
    "nobody is on a lane",
    "lane 1 withdrew",
    undefined,
    "lane 4 is under a medical hold",
    "lane 9 is not in this heat",
    "nobody is the fastest now",
  ]);
  assert.match(refusal(item("duel", "leader,lane:2"), SHOW, SUBJECTS) ?? "", /^1 of 2/);
  assert.equal(refusal(item("athlete", "lane:9", { heat: "h2" }), SHOW, SUBJECTS), undefined);
});

test("of an event with several scores each may be chosen, and one it does not have is refused", () => {
  const show = { ...SHOW, views: { event: { title: "Event result", least: 0, most: 1 }, ...VIEWS }, parts: { sprint: "First round", whole: "Whole" } };
  const scored = { ...SUBJECTS, parts: ["sprint", "whole"] };
  const events = choices(show, scored).filter((each) => each.view === "event");
  assert.deepEqual(events.map(({ params }) => params), [{}, { part: "whole" }]);
  assert.equal(choices(show, SUBJECTS).length, Object.keys(show.views).length);
  assert.equal(itemText(item("event", undefined, { part: "whole" }), show), "Event result · Whole");
  assert.equal(refusal(item("event", undefined, { part: "whole" }), show, scored), undefined);
  assert.equal(refusal(item("event", undefined, { part: "whole" }), show, SUBJECTS), "the event of this heat has no score whole");
});

test("picking replaces one, keeps the newest two, and fills up to four", () => {
  const picked = (view, who, ...subjects) => subjects.reduce((was, subject) => pickSubject(was, subject, VIEWS[view]), item(view, who)).params.who;
  assert.equal(picked("athlete", "leader", "lane:2"), "lane:2");
  assert.equal(picked("duel", "battle:1", "lane:2"), "lane:2");
  assert.equal(picked("duel", "battle:1", "lane:2", "lane:7", "lane:1"), "lane:7,lane:1");
  assert.equal(picked("duel", "lane:1,lane:2", "battle:3"), "battle:3");
  assert.equal(picked("pace", "leader", "lane:1", "lane:2", "lane:3", "lane:4"), "lane:1,lane:2,lane:3,lane:4");
  assert.equal(picked("pace", "leader,lane:1", "leader"), "lane:1");
  assert.equal(picked("pace", "leader", "leader"), "leader");
});

test("where somebody may be picked but need not, picking again takes it back", () => {
  const lineup = { title: "Lane introductions", least: 0, most: 1 };
  const one = pickSubject(item("lineup", undefined, { heat: "h2" }), "lane:4", lineup);
  assert.deepEqual(one.params, { heat: "h2", who: "lane:4" });
  assert.equal(pickSubject(one, "lane:5", lineup).params.who, "lane:5");
  assert.deepEqual(pickSubject(one, "lane:4", lineup).params, { heat: "h2" });
  assert.equal(pickSubject(item("heat"), "lane:4", VIEWS.heat).params.who, undefined);
});

test("a view begins with somebody where it needs somebody", () => {
  assert.deepEqual(Object.keys(VIEWS).map((name) => freshItem(name, VIEWS[name]).params.who), [undefined, "leader", "battle:1", "leader,place:2"]);
});

test("every action has a key of its own, and letters do not care for shift", () => {
  const keys = new Keys(memoryStorage());
  assert.equal(new Set(ACTIONS.map(({ key }) => key)).size, ACTIONS.length);
  assert.deepEqual(["C", "c", " ", "7", "q"].map((key) => keys.actionOf(key)), ["clear", "clear", "take", "digit7", undefined]);
});

test("a key that is given anew is exchanged, kept over a reload, and can be reset", () => {
  const storage = memoryStorage();
  const keys = new Keys(storage);
  assert.equal(keys.set("take", "c"), undefined);
  const again = new Keys(storage);
  assert.deepEqual([again.actionOf("c"), again.actionOf(" ")], ["take", "clear"]);
  assert.match(keys.set("take", "Enter") ?? "", /^found Enter/);
  again.reset();
  assert.equal(new Keys(storage).actionOf(" "), "take");
});

test("facts are numbered anew on every connection, and none is kept for later", () => {
  const sent = [];
  let up = true;
  const sender = new Sender("k3", (message) => up && sent.push(...message.facts) > 0);
  const draft = { fact: "view_cleared", id: "x", heat: "h", at_ms: 0, output: "world" };
  assert.equal(sender.begin(), "desk-k3-1");
  sender.send(draft, "Clear");
  sender.send(draft, "Clear again");
  assert.deepEqual(sent.map(({ sender: name, sequence }) => [name, sequence]), [["desk-k3-1", 1], ["desk-k3-1", 2]]);
  assert.deepEqual(sender.take({ watermark: 2, refused: [{ sequence: 2, code: "fact_refused", message: "no" }] }), ["Clear again was refused: no"]);
  up = false;
  assert.equal(sender.send(draft, "Clear"), false);
  up = true;
  sender.send(draft, "Take");
  assert.deepEqual([sender.lose(), sender.lose(), sender.begin()], [["Take"], [], "desk-k3-2"]);
});

test("two digits typed soon are one number when there is such a number", () => {
  const digits = new Digits();
  const known = (number) => number <= 12;
  const typed = [["1", 0], ["2", 100], ["3", 200], ["3", 300], ["1", 2000], ["2", 2000 + DIGITS_MS], ["0", 9000]];
  assert.deepEqual(typed.map(([digit, at]) => digits.press(digit, at, known)), [1, 12, 3, 3, 1, 2, undefined]);
});

test("a taken line makes room for the next, and whoever left the rundown comes back to the line that was left", () => {
  const rundown = ["heat", "athlete", "track"].map((view) => item(view));
  const hand = new Hand();
  hand.step(rundown, 1);
  assert.deepEqual([hand.line, hand.item], [0, rundown[0]]);
  hand.taken(rundown);
  assert.equal(hand.line, 1);
  hand.prepare(item("duel", "battle:1"));
  hand.taken(rundown);
  assert.deepEqual([hand.line, hand.item.view], [undefined, "duel"]);
  hand.step(rundown, 1);
  assert.equal(hand.line, 1);
  hand.step(rundown, 1);
  hand.taken(rundown);
  hand.step(rundown, 1);
  assert.equal(hand.line, 2);
  hand.step([], 1);
  assert.equal(hand.line, 2);
});
