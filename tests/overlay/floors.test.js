import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { reduce } from "../../overlay/desk/reducer.js";
import { openDesk, watchesOf } from "../../overlay/desk/state.js";
import { choices, wishes } from "../../overlay/home/words.js";
import { lastSeen, nameOf, openPad, storedAt, viewAt } from "../../overlay/pad/state.js";
import { inTime, onFloor } from "../../overlay/shared/day.js";
import { floorIn, floorName, heatAsked, isFloor, onItsFloor } from "../../overlay/shared/floor.js";
import { memoryStorage } from "../../overlay/shared/queue.js";
import { draftOf, HEAT_ACTIONS, whyNot } from "../../overlay/table/actions.js";
import { frameOf } from "./events.js";
import { frameOf as heatOf, laneOf } from "./frames.js";

const EAST = { id: "east", name: "East" };
const WEST = { id: "west", name: "West" };

test("an address asks for a heat, for one of several floors, or for the floor", () => {
  const asked = ["?heat=h2", "?floor=east", "?heat=h2&floor=east", "", "?floor="].map((each) => heatAsked(new URLSearchParams(each)));
  assert.deepEqual(asked, ["h2", "floor:east", "h2", "floor", "floor"]);
  assert.deepEqual(["floor", "floor:east", "h2", "floorball"].map(isFloor), [true, true, false, false]);
  assert.deepEqual(["floor", "floor:east", "h2"].map(floorIn), ["", "east", ""]);
  assert.deepEqual([floorName(), floorName(null), floorName(""), floorName("east")], ["floor", "floor", "floor", "floor:east"]);
});

test("an output shows the heat on its own floor, unless the picture names a heat", () => {
  const item = { view: "heat", params: {} };
  assert.deepEqual(onItsFloor(item, "east").params, { heat: "floor:east" });
  assert.equal(onItsFloor(item), item);
  assert.deepEqual(onItsFloor({ ...item, params: { heat: "h9" } }, "east").params, { heat: "h9" });
  assert.equal(onItsFloor(undefined, "east"), undefined);
});

const day = [
  { id: "e1", name: "E1", floor: "east", status: "over", start_unix_ms: 1 },
  { id: "w1", name: "W1", floor: "west", status: "over", start_unix_ms: 2 },
  { id: "w2", name: "W2", floor: "west", status: "waiting", start_unix_ms: 3 },
  { id: "e2", name: "E2", floor: "east", status: "waiting", start_unix_ms: 4 },
];

test("a call at the table brings the next heat of the same floor", () => {
  const on = (id, floor) => ({ frame: { ...frameOf({}), heats: day, floor: id, open: true, heat: { id, name: id, status: "over", floor } }, clockMs: 0, unixMs: 1 });
  const called = (context) => whyNot(HEAT_ACTIONS.call, context) ?? draftOf(HEAT_ACTIONS.call, {}, context, "f1").heat;
  assert.deepEqual([called(on("e1", EAST)), called(on("w1", WEST))], ["e2", "w2"]);
  const last = on("e1", EAST);
  last.frame.heats = day.filter(({ id }) => id !== "e2");
  assert.equal(called(last), "No heat is left to call");
});

test("each floor has its own day, and together they stand in time", () => {
  assert.deepEqual(onFloor(day, "west").map(({ id }) => id), ["w1", "w2"]);
  assert.deepEqual(onFloor([{ id: "a", name: "A" }], undefined).length, 1);
  const untimed = { id: "x", name: "X", floor: "east" };
  assert.deepEqual(inTime([[day[0], untimed, day[3]], [day[1], day[2]]]).map(({ id }) => id), ["e1", "x", "w1", "w2", "e2"]);
});

test("slips are for the lanes of each floor, and every choice asks for something of its own", () => {
  const listed = { lanes: [1, 2, 3], floors: [{ ...EAST, lanes: [1, 2] }, { ...WEST, lanes: [2, 3] }] };
  const more = { label: "", days: 1 };
  assert.deepEqual(wishes("lanes", listed, more).map(({ lane, floor }) => `${lane} ${floor}`), ["1 east", "2 east", "2 west", "3 west"]);
  assert.deepEqual(wishes("lane:2@west", listed, more), [{ role: "lane", lane: 2, floor: "west", ...more }]);
  assert.deepEqual(wishes("display@east", listed, more), [{ role: "display", floor: "east", ...more }]);
  const offered = new Map(choices(listed));
  assert.deepEqual([offered.get("lane:2@east"), offered.get("backup:3@west"), offered.get("display@west")], ["Lane pad 2, East", "Backup counter 3, West", "Display, West"]);
  assert.equal(offered.has("desk@east"), false);
  const asked = [...offered.keys()].map((choice) => JSON.stringify(wishes(choice, listed, more)));
  assert.equal(new Set(asked).size, asked.length);
});

test("two pads of one lane on two floors keep what they count apart, and each says its floor", () => {
  const storage = memoryStorage();
  assert.deepEqual([nameOf(4, "lane", ""), nameOf(4, "lane", "east"), nameOf(4, "backup", "west")], ["lane-4", "lane-4-east", "backup-4-west"]);
  const instant = { nowMs: 0, serverMs: 0, tickMs: 0, id: "f1", sender: "lane-4-east-1" };
  const frame = { ...frameOf({ 4: {} }), heat: { id: "h1", name: "Heat 1", status: "running", floor: EAST } };
  storage.setItem(storedAt("lane-4-east").seen, JSON.stringify({ frame }));
  assert.equal(lastSeen(storage, "lane-4-east", "floor:east").frame.heat.id, "h1");
  assert.deepEqual(lastSeen(storage, "lane-4-west", "floor:west"), {});
  const pad = (floor) => openPad({ lane: 4, storage, floor, heat: floorName(floor) }, instant);
  assert.deepEqual(["east", "west"].map((floor) => viewAt(pad(floor), instant).floor), ["East", ""]); // nothing seen on the other yet
});

const VIEWS = { heat: { title: "Heat standing", least: 0, most: 0 }, finish: { title: "Finish", least: 1, most: 1 } };
const HOME = { status: "finished", finish_ms: 600_000, reached_ms: 600_000, result: "10:00.000" };
const onEast = (...home) => ({ ...heatOf([1, 2].map((lane) => laneOf(lane, home.includes(lane) ? HOME : {}))), heat: { id: "e1", name: "E1", status: "running", floor: EAST } });
const onWest = (...home) => ({ ...onEast(...home), heat: { id: "w1", name: "W1", status: "running", floor: WEST } });
const output = (floor) => ({ name: floor, floor, width: 1920, height: 1080, hold_ms: 0, delay_ms: 0, automatic: "propose", automatic_by: "desk-t1-x-1", rundown: [] });
const SHOW = {
  competition: { name: "Cup" },
  heats: { e1: { name: "E1 · East", floor: "east" }, w1: { name: "W1 · West", floor: "west" } },
  floors: { east: { name: "East" }, west: { name: "West" } },
  parts: {},
  views: VIEWS,
  outputs: { hall: output("east"), yard: output("west") },
  held: [],
};
const subjectsOf = (id) => ({ heat: { id, name: id }, stage: "live", parts: [], subjects: {}, held: [], missing: {} });

let desk;
let effects;
let now;

/** Let an event happen at the desk a second later. */
function happen(event) {
  now += 1000;
  ({ state: desk, effects } = reduce(desk, event, { nowMs: now, serverMs: now, known: true, tickMs: now, id: `i${now}` }));
}

const came = (view, frame, heat) => happen({ type: "frame", view, frame, heat, unixMs: now });
const sent = () => effects.filter((effect) => effect.do === "send").flatMap(({ message }) => message.facts);

beforeEach(() => {
  now = 100_000;
  desk = openDesk({ tab: "t1", sender: "t1-x", output: "", storage: memoryStorage() }, now);
  happen({ type: "begin" });
  happen({ type: "link", link: { up: true, since: now } });
});

test("the desk watches the heats on the floors of its outputs, and whom the worked output can show", () => {
  assert.deepEqual(watchesOf(desk).map(({ view, heat }) => `${view} ${heat}`), ["show floor", "subjects floor", "booth floor", "heat floor"]);
  came("show", SHOW, "floor");
  assert.deepEqual(watchesOf(desk).map(({ view, heat }) => `${view} ${heat}`), ["show floor", "subjects floor:east", "booth floor:east", "heat floor:east", "heat floor:west"]);
  happen({ type: "output", name: "yard" });
  assert.equal(watchesOf(desk)[1].heat, "floor:west");
});

test("what the desk works with, and what it sends, is of the floor of the output", () => {
  came("show", SHOW, "floor");
  came("heat", onEast(), "floor:east");
  came("heat", onWest(), "floor:west");
  came("subjects", subjectsOf("e1"), "floor:east");
  assert.deepEqual([desk.frame.heat.id, desk.subjects.heat.id], ["e1", "e1"]);
  happen({ type: "act", id: "clear" });
  assert.deepEqual(sent().map(({ heat, output: of }) => `${of} ${heat}`), ["hall e1"]);
  happen({ type: "act", id: "output" });
  assert.deepEqual([desk.frame.heat.id, desk.subjects], ["w1", undefined]); // who is on it is asked for
  happen({ type: "act", id: "clear" });
  assert.deepEqual(sent().map(({ heat, output: of }) => `${of} ${heat}`), ["yard w1"]);
});

test("a finish on one floor is proposed on the outputs of that floor alone", () => {
  came("show", SHOW, "floor");
  came("heat", onEast(), "floor:east");
  came("heat", onWest(), "floor:west");
  came("heat", onWest(2), "floor:west");
  assert.deepEqual(desk.sides.hall.proposals, []);
  assert.deepEqual(desk.sides.yard.proposals.map(({ key }) => key), ["finish 2"]);
});
