import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";

import { alsoThere, fieldsOf, formOf, placeOf } from "../../overlay/make/form.js";
import { cellsOf, entriesOf, guessed } from "../../overlay/make/pasted.js";
import { moved, pathText, valueAt, withValue } from "../../overlay/make/paths.js";
import { languageText } from "../../overlay/make/words.js";
import { isDirty, mayRun, maySave, openMaker, reduce, shownValue, typedValue } from "../../overlay/make/reducer.js";

const FORMATS = [{ name: "first" }, { name: "second", field: "own", schema: { type: "object", properties: { bar: { type: "number", default: 20 }, discs: { type: "array" }, counts: { enum: ["a", "b"], default: "b" }, timed: { type: "boolean" } } } }];
const FILE = { name: "cove.toml", version: "", text: "", data: {}, problems: [], formats: FORMATS };
const KNOWN = { entries: [], divisions: [{ id: "open", name: "Open" }], fallback: "open" };

/** Let events happen one after the other to a page that has just opened a file. */
function after(file, ...events) {
  let [state, effects] = [openMaker(), []];
  for (const event of [{ type: "told", file }, ...events]) ({ state, effects } = reduce(state, event));
  return { state, effects };
}

test("each language is called what it calls itself; source: CLDR by way of ECMA-402", () => {
  const codes = ["en", "es", "fr", "ar", "ja"];
  assert.deepEqual(codes.map(languageText), codes.map((each) => new Intl.DisplayNames(each, { type: "language" }).of(each)));
});

test("a place is written as the server writes it, counted from 1", () => {
  assert.equal(pathText(["event", 0, "workout", "station", 1, "movement"]), "event[1].workout.station[2].movement");
  assert.equal(pathText(["heat", 0, "lanes", "3"]), "heat[1].lanes.3");
});

test("a value is changed without changing what was before; one that is taken away takes an empty table with it", () => {
  const before = { event: [{ workout: { tie_break: { round: 2 }, rounds: 3 } }] };
  const once = withValue(before, ["event", 0, "workout", "tie_break", "round"], undefined);
  assert.deepEqual([once, before.event[0].workout.tie_break], [{ event: [{ workout: { rounds: 3 } }] }, { round: 2 }]);
  assert.deepEqual(Object.keys(withValue({ a: 1, b: 2 }, ["a"], 3)), ["a", "b"]);
  assert.equal(valueAt(before, ["event", 4, "name"]), undefined);
  assert.deepEqual([moved([1, 2, 3], 0, 1), moved([1, 2, 3], 2, 1)], [[2, 1, 3], [1, 2, 3]]);
});

// Made by Python's csv module (excel dialect, which writes RFC 4180): tests/overlay/make_vectors.py writes them anew.
const VECTORS = JSON.parse(readFileSync(new URL("make_vectors.json", import.meta.url), "utf8"));

test("a table is read as another program wrote it, by tabs, semicolons or commas, with hostile cells", () => {
  for (const { text, rows } of VECTORS) assert.deepEqual(cellsOf(text), rows, text);
});

test("columns are known by what the first row calls them, each once; without such a row names come first", () => {
  assert.deepEqual(guessed([["Gym", "Athlete", "Team", "Category"]]), { columns: ["home", "name", "", "division"], headed: true });
  assert.deepEqual(guessed([["Runa", "Open"]]), { columns: ["name", "division"], headed: false });
});

test("a table adds entries and divisions, and brings those up to date that are there", () => {
  const rows = [["Éva Ñandú", "Masters", "1,5"], ["Éva Ñandú", "masters", "2"], ["孙", "", ""], ["", "Open", ""]];
  const { entries, divisions, added, changed } = entriesOf(rows, ["name", "division", "points_before"], KNOWN);
  assert.deepEqual([added, changed, divisions.map(({ name }) => name)], [2, 1, ["Open", "Masters"]]);
  assert.deepEqual(entries, [
    { id: "eva-nandu", name: "Éva Ñandú", division: "masters", points_before: 2 },
    { id: "entry-1", name: "孙", division: "open" },
  ]);
});

test("the form asks for what the chosen format has of its own, and names what it does not show", () => {
  const data = { competition: { name: "A" }, event: [{ id: "e", name: "E", workout: { format: "second", own: { bar: 15 } }, record: [{ who: "x" }] }], cut: [{ after: "e" }], theme: { mat: "#000000" } };
  const form = formOf(data, FORMATS);
  const own = fieldsOf(form).filter(({ path }) => path.includes("own"));
  assert.deepEqual(own.map(({ path, kind }) => [path.at(-1), kind]), [["bar", "number"], ["discs", "numbers"], ["counts", "choice"], ["timed", "flag"]]);
  assert.deepEqual(own[2].options?.map(([value]) => value), ["b", "a"]);
  assert.deepEqual(alsoThere(data, form), ["cut.after", "event.record", "theme.mat"]);
});

test("rounds that differ are not shown, and not lost", () => {
  const data = { event: [{ workout: { format: "first", round: [{ station: [{ movement: "Row" }] }] } }] };
  assert.deepEqual(alsoThere(data, formOf(data, FORMATS)), ["event.workout.round"]);
});

test("a problem is shown at its field, at the first one inside its place, or where it belongs", () => {
  const places = ["entry", "event[1].name", "event[1].workout.own.bar"];
  assert.equal(placeOf(places, "event[1].name"), "event[1].name");
  assert.equal(placeOf(places, "event[1].workout.own"), "event[1].workout.own.bar");
  assert.equal(placeOf(places, "event[1].part[1].mark"), "event[1].name");
  assert.equal(placeOf(places, "nowhere"), undefined);
});

test("what is typed becomes what the file holds, and what is no number is left for the server to name", () => {
  assert.deepEqual([typedValue("number", " 5 "), typedValue("number", "five"), typedValue("text", " "), typedValue("flag", "true")], [5, "five", undefined, true]);
  assert.deepEqual([typedValue("numbers", "25, 20 10"), typedValue("names", "count_back last_event")], [[25, 20, 10], ["count_back", "last_event"]]);
  assert.equal(shownValue([25, 20]), "25, 20");
});

test("every change is checked and kept, and only the newest check counts", () => {
  const { state, effects } = after(FILE, { type: "set", path: ["competition", "name"], value: "Cove" });
  assert.deepEqual(effects.map((each) => each.do), ["keep", "check"]);
  const old = reduce(state, { type: "checked", turn: state.turn - 1, problems: [] }).state;
  assert.equal(maySave(old), false);
  assert.equal(maySave(reduce(state, { type: "checked", turn: state.turn, problems: [] }).state), true);
  assert.equal(maySave(reduce(state, { type: "checked", turn: state.turn, problems: [{ path: "entry", found: "", expected: "", said: { at: "", found: "", expected: "" } }] }).state), false);
});

test("what is saved can be run, what is not saved or was never a file cannot", () => {
  const data = { competition: { name: "A" } };
  const saved = { ...FILE, version: "1", data };
  const { state } = after(FILE, { type: "saved", file: saved });
  const checked = reduce(state, { type: "checked", turn: state.turn, problems: [] }).state;
  assert.deepEqual([mayRun(state), mayRun(checked), isDirty(checked)], [false, true, false]);
  assert.equal(mayRun(reduce(checked, { type: "set", path: ["competition", "name"], value: "B" }).state), false);
});

test("a draft that this device kept stands there again, and can be thrown away", () => {
  const file = { ...FILE, version: "1", data: { competition: { name: "A" } } };
  let { state } = { state: openMaker() };
  ({ state } = reduce(state, { type: "told", file, draft: { competition: { name: "B" } } }));
  assert.deepEqual([state.data.competition.name, isDirty(state)], ["B", true]);
  const { state: back, effects } = reduce(state, { type: "discard" });
  assert.deepEqual([isDirty(back), effects[0]], [false, { do: "keep", version: "1", data: undefined }]);
});

test("every change can be taken back, one after the other", () => {
  const { state } = after(FILE, { type: "add", path: ["entry"], kind: "entry" }, { type: "set", path: ["entry", 0, "name"], value: "Runa" }, { type: "remove", path: ["entry", 0] }, { type: "undo" });
  assert.equal(state.data.entry[0].name, "Runa");
  assert.equal(reduce(state, { type: "undo" }).state.data.entry[0].name, undefined);
});

test("lanes that are dealt make the event's heats anew, in their place, with the ids that recordings name", () => {
  const heat = (id, event) => ({ id, name: id, event, lanes: {}, start: "2027-06-05T09:00:00+02:00" });
  const data = { division: [{ id: "open", name: "Open" }], event: [], heat: [heat("a", "one"), heat("b", "two"), heat("c", "two"), heat("d", "three")] };
  const { state } = after({ ...FILE, version: "1", data }, { type: "dealt", event: "two", heats: [{ division: "open", lanes: { 1: "x" } }] });
  assert.deepEqual(state.data.heat.map(({ id }) => id), ["a", "b", "d"]);
  assert.deepEqual([state.data.heat[1].lanes, state.data.heat[1].start], [{ 1: "x" }, "2027-06-05T09:00:00+02:00"]);
});

test("a pasted table is taken with the columns as they were put right", () => {
  const { state } = after(FILE, { type: "paste", text: "Iron Quay\tRuna\n" }, { type: "column", at: 1, field: "name" }, { type: "column", at: 0, field: "home" }, { type: "takePasted" });
  assert.deepEqual(state.data.entry, [{ id: "runa", name: "Runa", division: "open", home: "Iron Quay" }]);
  assert.equal(state.pasted, undefined);
});
