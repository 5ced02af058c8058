import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { reduce } from "../../overlay/desk/reducer.js";
import { openDesk, sideOf } from "../../overlay/desk/state.js";
import { memoryStorage } from "../../overlay/shared/queue.js";
import { frameOf, laneOf } from "./frames.js";

const VIEWS = {
  heat: { title: "Heat standing", least: 0, most: 0 },
  athlete: { title: "One athlete", least: 1, most: 1 },
  finish: { title: "Finish", least: 1, most: 1 },
  duel: { title: "Two athletes", least: 2, most: 2 },
  runin: { title: "Run-in", least: 0, most: 0 },
};
const RUNDOWN = [
  { view: "heat", params: {} },
  { view: "athlete", params: { who: "leader" } },
];
const SUBJECTS = {
  heat: { id: "h1", name: "Heat 1" },
  stage: "live",
  parts: [],
  subjects: { "lane:1": [1], "lane:2": [2], "lane:12": [12], leader: [2], "place:1": [2], "battle:1": [2, 1], "battle:2": [1, 2], finisher: [1] },
  held: [4],
  missing: { athlete: { 1: "lane 1 withdrew" } },
};
const HOME = { status: "finished", finish_ms: 600_000, reached_ms: 600_000, result: "10:00.000" };
const heat = (...home) => frameOf([1, 2, 12].map((lane) => laneOf(lane, home.includes(lane) ? HOME : {})));

let state;
let effects;
let now;
let known;

/** Let an event happen so long after the one before. */
function happen(event, afterMs = 1000) {
  now += afterMs;
  const next = reduce(state, event, { nowMs: now, serverMs: now, known, tickMs: now, id: `i${now}` });
  [state, effects] = [next.state, next.effects];
}

/** The show with what differs of the one output that is worked. */
const show = (more = {}) => {
  const plain = { width: 1920, height: 1080, hold_ms: 0, delay_ms: 0, automatic: "off", rundown: RUNDOWN };
  const outputs = { main: { ...plain, name: "Main", ...more }, wall: { ...plain, name: "Wall" } };
  return { competition: { name: "Cup" }, heats: { h1: { name: "Heat 1" }, h2: { name: "Heat 2" } }, parts: {}, views: VIEWS, outputs, held: [] };
};
const came = (view, frame, afterMs) => happen({ type: "frame", view, frame, unixMs: now }, afterMs);
const act = (id, afterMs) => happen({ type: "act", id }, afterMs);
const hear = (message) => happen({ type: "message", message });
const sent = () => effects.filter((effect) => effect.do === "send").flatMap(({ message }) => message.facts);
const told = () => (state.message.until > now ? state.message.text : "");
const hand = () => sideOf(state).hand.item;
const ours = { automatic_by: "desk-t1-x-1" };

beforeEach(() => {
  now = 100_000;
  known = true;
  state = openDesk({ tab: "t1", sender: "t1-x", output: "", storage: memoryStorage() }, now);
  happen({ type: "begin" });
  happen({ type: "link", link: { up: true, since: now } });
  hear({ type: "welcome", role: "desk", mode: "live", speed: 1 });
  came("show", show());
  came("subjects", SUBJECTS);
  came("heat", heat());
});

test("the desk begins with the first output, unless it was opened for one that is there", () => {
  assert.equal(state.output, "main");
  state = openDesk({ tab: "t1", sender: "t1-x", output: "wall", storage: memoryStorage() }, now);
  came("show", show());
  assert.equal(state.output, "wall");
});

test("a take sends what is prepared for the output that is worked, by the operator", () => {
  act("next");
  act("take");
  const [{ fact, view, params, by, output, heat: of, sender, sequence }] = sent();
  assert.deepEqual([fact, view, params, by, output, of, sender, sequence], ["view_taken", "heat", {}, "operator", "main", "h1", "desk-t1-x-1", 1]);
});

test("after a take the rundown's next line is in hand, and a view that is none of its lines stays", () => {
  act("next");
  act("take");
  assert.equal(hand().view, "athlete");
  happen({ type: "choose", item: { view: "heat", params: {} } });
  act("take");
  assert.deepEqual([hand().view, sent()[0].sequence], ["heat", 2]);
});

test("with nothing prepared, or what would be refused, nothing is sent and the reason is told", () => {
  act("take");
  assert.deepEqual([told(), sent()], ["Nothing is prepared", []]);
  happen({ type: "choose", item: { view: "athlete", params: { who: "lane:1" } } });
  act("take");
  assert.deepEqual([told(), sent()], ["Not taken: lane 1 withdrew", []]);
  happen({ type: "pick", subject: "lane:4" });
  act("take");
  assert.equal(told(), "Not taken: lane 4 is under a medical hold");
});

test("a message is gone after eight seconds", () => {
  act("take");
  happen({ type: "tick" }, 8000);
  assert.equal(told(), "");
});

test("a clear is sent whatever is prepared", () => {
  act("clear");
  assert.deepEqual(sent().map(({ fact, by, output }) => [fact, by, output]), [["view_cleared", "operator", "main"]]);
});

test("without a link nothing is kept for later: it is told, and what is in hand stays", () => {
  act("next");
  happen({ type: "link", link: { up: false, since: now } });
  act("take");
  assert.deepEqual([told(), sent(), hand().view], ["Take Heat standing: not sent, there is no link to the server", [], "heat"]);
  happen({ type: "link", link: { up: true, since: now } });
  assert.deepEqual(effects, []);
});

test("what was not answered when the link broke is told and never sent again; the next connection has a name of its own", () => {
  act("clear");
  happen({ type: "link", link: { up: false, since: now } });
  assert.equal(told(), "Clear may not have arrived: the link was lost. Look at the programme.");
  happen({ type: "begin" });
  happen({ type: "link", link: { up: true, since: now } });
  act("clear");
  assert.deepEqual(sent().map(({ sender, sequence }) => [sender, sequence]), [["desk-t1-x-2", 1]]);
});

test("a fact that did not leave is told, and its number is given again", () => {
  act("clear");
  happen({ type: "unsent", sequence: 1 });
  assert.match(told(), /^Clear: not sent/);
  act("clear");
  assert.equal(sent()[0].sequence, 1);
});

test("a refused take is told by its name; an answered one is not told when the link breaks", () => {
  act("next");
  act("take");
  hear({ type: "acknowledged", sender: "desk-t1-x-1", watermark: 1, refused: [{ sequence: 1, code: "no", message: "no such heat" }] });
  assert.equal(told(), "Take Heat standing was refused: no such heat");
  act("clear");
  hear({ type: "acknowledged", sender: "desk-t1-x-1", watermark: 2, refused: [] });
  happen({ type: "tick" }, 9000);
  happen({ type: "link", link: { up: false, since: now } });
  assert.equal(told(), "");
});

test("a gap begins a new connection, an error is told, and without a key the desk is barred", () => {
  hear({ type: "gap", expected: 1, found: 2 });
  assert.deepEqual(effects, [{ do: "restart" }]);
  hear({ type: "error", code: "bad_message", message: "torn" });
  assert.equal(told(), "The server could not read a message: torn");
  hear({ type: "error", code: "not_allowed", message: "no" });
  assert.match(state.barred, /no valid key/);
});

test("who is in hand stays in hand when a view about nobody in particular is chosen", () => {
  happen({ type: "choose", item: { view: "duel", params: { who: "battle:1" } } });
  happen({ type: "choose", item: { view: "athlete", params: { who: "leader" } } });
  assert.deepEqual(hand(), { view: "athlete", params: { who: "place:1" } });
});

test("a view may be of another heat than the one on the floor", () => {
  happen({ type: "heat", heat: "h2" });
  happen({ type: "choose", item: { view: "heat", params: {} } });
  assert.deepEqual(hand().params, { heat: "h2" });
});

test("a view about the whole heat takes nobody", () => {
  happen({ type: "choose", item: { view: "heat", params: {} } });
  act("leader");
  assert.match(told(), /choose a view about somebody first/);
});

test("number keys pick a lane, two quick digits a lane with two, then places, then battles", () => {
  happen({ type: "choose", item: { view: "athlete", params: { who: "lane:2" } } });
  act("digit1");
  assert.equal(hand().params.who, "lane:1");
  act("digit2", 300);
  assert.equal(hand().params.who, "lane:12");
  act("by");
  act("digit1");
  assert.equal(hand().params.who, "place:1");
  act("battle");
  assert.equal(hand().params.who, "place:1"); // of one athlete a battle is its place
  happen({ type: "choose", item: { view: "duel", params: { who: "battle:1" } } });
  act("digit2", 2000);
  assert.equal(hand().params.who, "battle:2");
});

test("each output has a hand of its own, and the output's key goes round", () => {
  act("next");
  act("output");
  assert.deepEqual([state.output, hand()], ["wall", undefined]);
  act("next");
  act("clear");
  assert.equal(sent()[0].output, "wall");
  act("output");
  assert.deepEqual([state.output, hand().view], ["main", "heat"]);
  happen({ type: "output", name: "wall" });
  happen({ type: "line", line: 1 });
  assert.equal(hand().view, "athlete");
});

test("the delay goes by a tenth, from what was asked and not from an answer on its way, and stays in its bounds", () => {
  act("later");
  act("later", 100);
  assert.equal(sent()[0].delay_ms, 200);
  came("show", show({ delay_ms: 200 }), 1000);
  act("sooner");
  assert.equal(sent()[0].delay_ms, 100);
  happen({ type: "delay", ms: 90_000 }, 1000);
  assert.equal(sent()[0].delay_ms, 30_000);
  came("show", show({ delay_ms: 0 }), 1000);
  act("sooner");
  assert.deepEqual(sent(), []);
});

test("the automatic mode goes round; another desk's is taken over as it is", () => {
  act("automatic");
  act("automatic", 100);
  assert.equal(sent()[0].automatic, "take");
  came("show", show({ automatic: "propose", automatic_by: "desk-other-1" }), 1000);
  act("automatic");
  assert.equal(sent()[0].automatic, "propose");
  came("show", show({ automatic: "propose", ...ours }), 1000);
  assert.equal(state.ours, true);
  act("automatic");
  assert.equal(sent()[0].automatic, "take");
});

test("before the first picture of the outputs the automatic mode is not stepped: there is nothing to step from", () => {
  came("show", null);
  act("automatic");
  assert.deepEqual(sent(), []);
});

test("a finish is proposed, and accepted or dropped", () => {
  came("show", show({ automatic: "propose", ...ours }));
  came("heat", heat());
  came("heat", heat(2));
  assert.deepEqual([state.proposals.map(({ key }) => key), sent()], [["finish 2"], []]);
  act("proposal");
  assert.deepEqual([sent()[0].view, sent()[0].params, sent()[0].by], ["finish", { who: "lane:2" }, "operator"]);
  happen({ type: "tick" });
  assert.deepEqual(state.proposals, []);
  came("heat", heat(1, 2));
  act("dismiss");
  assert.deepEqual([sent(), state.proposals], [[], []]);
});

test("when it takes by itself a card goes on once, by the automatic mode, and only at the desk that works it", () => {
  came("show", show({ automatic: "take", automatic_by: "desk-other-1" }));
  came("heat", heat());
  came("heat", heat(2));
  assert.deepEqual([sent(), state.ours], [[], false]);
  came("show", show({ automatic: "take", ...ours }));
  came("heat", heat(1, 2));
  assert.deepEqual(sent().map(({ fact, by, params }) => [fact, by, params]), [["view_taken", "automatic", { who: "lane:1" }]]);
  happen({ type: "tick" }, 100);
  assert.deepEqual(sent(), []);
});

test("after the operator cleared, nothing is taken for a while", () => {
  came("heat", heat());
  came("show", show({ automatic: "take", ...ours, changed: { id: "t1", by: "operator", unix_ms: now } }));
  came("heat", heat(2));
  assert.deepEqual([sent(), state.proposals.length], [[], 1]);
  happen({ type: "tick" }, 12_000);
  assert.equal(sent()[0].by, "automatic");
});

test("the rules see the heat as the output shows it: a finish waits for the delay", () => {
  came("show", show({ automatic: "propose", delay_ms: 5000, ...ours }));
  came("heat", heat());
  happen({ type: "tick" }, 20_000);
  came("heat", heat(2));
  assert.deepEqual(state.proposals, []);
  happen({ type: "tick" }, 6000);
  assert.deepEqual(state.proposals.map(({ key }) => key), ["finish 2"]);
});

test("without a link nothing is proposed", () => {
  came("show", show({ automatic: "propose", ...ours }));
  came("heat", heat(2));
  happen({ type: "link", link: { up: false, since: now } });
  happen({ type: "tick" });
  assert.deepEqual(state.proposals, []);
});

test("a key is changed, kept, refused where the browser needs it, and let be with Escape", () => {
  happen({ type: "changeKey", id: "take" });
  happen({ type: "newKey", key: "Tab" });
  assert.match(told(), /expected a key that the browser leaves free/);
  assert.equal(state.changing, "take");
  happen({ type: "newKey", key: "t" });
  assert.deepEqual([state.keys.actionOf("t"), state.changing, effects[0].do], ["take", "", "store"]);
  happen({ type: "changeKey", id: "clear" });
  happen({ type: "newKey", key: "Escape" });
  assert.deepEqual([state.keys.actionOf("c"), state.changing], ["clear", ""]);
  happen({ type: "usualKeys" });
  assert.equal(state.keys.actionOf(" "), "take");
});

test("a step leaves the state it began from as it was", () => {
  act("next");
  const [before, keys] = [state, state.keys];
  act("take");
  act("later");
  happen({ type: "changeKey", id: "take" });
  happen({ type: "newKey", key: "t" });
  assert.deepEqual([sideOf(before).hand.item.view, sideOf(before).asked.until, keys.actionOf(" "), before.changing], ["heat", 0, "take", ""]);
  assert.deepEqual(before.sender.lose(), []);
});
