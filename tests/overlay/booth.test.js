import assert from "node:assert/strict";
import { test } from "node:test";

import { besideCue, briefOf, notesDismissed, notesToRead, noteSource, noteTime } from "../../overlay/booth/notes.js";
import { introductions } from "../../overlay/desk/items.js";
import { linkText, noteOf, rowsOf } from "../../overlay/spotter/words.js";

const note = (item, mark, more = {}) => ({ item, text: `text of ${item}`, spotter: "Ada", at_ms: 65_000, unix_ms: 1_800_000_065_000, mark, ...more });
const lane = (number, more = {}) => ({ lane: number, entry: `e${number}`, name: `Entry ${number}`, short: `E${number}`, facts: [], ...more });
const TOLD = [
  { item: "e1/1", text: "Won here", mark: "dismissed" },
  { item: "e1/2", text: "Came back", mark: "open" },
];
const frame = (...notes) => ({
  view: "booth",
  mode: "live",
  heat: { id: "h", name: "Heat" },
  clock: { cap_ms: 900_000 },
  lanes: { 1: lane(1, { say: "EN-tree", ipa: "ˈɛntri", age_class: "35 to 39", facts: TOLD, caution: "the fall" }), 2: lane(2, { say: "TOO" }), 3: lane(3) },
  notes: Object.fromEntries(notes.map((each) => [each.item, each])),
  order: notes.map((each) => each.item),
});

test("pinned notes come first, each kind as it came, and dismissed ones apart", () => {
  const shown = frame(note("d", "open"), note("c", "pinned"), note("b", "dismissed"), note("a", "pinned"));
  assert.deepEqual(notesToRead(shown).map(({ item }) => item), ["c", "a", "d"]);
  assert.deepEqual(notesDismissed(shown).map(({ item }) => item), ["b"]);
});

test("a note says when it was sent, about whom and by whom", () => {
  assert.equal(noteTime(note("a", "open")), "1:05");
  assert.match(noteTime(note("a", "open", { at_ms: 0 })), /^\d\d:\d\d$/);
  assert.equal(noteSource(note("a", "open", { lane: 2 }), frame()), "Lane 2 \u2068E2\u2069 · from \u2068Ada\u2069");
  assert.equal(noteSource(note("a", "open"), frame()), "from \u2068Ada\u2069");
});

test("beside a cue stand respellings, the first fact that was not dismissed, and cautions", () => {
  const beside = besideCue({ lanes: [1, 2] }, frame());
  assert.equal(beside.said, "\u2068E1\u2069: “EN-tree” · \u2068E2\u2069: “TOO” · Came back");
  assert.equal(beside.caution, "\u2068E1\u2069: do not mention the fall");
  assert.deepEqual(besideCue({ lanes: [3] }, frame()), { said: "", caution: "" });
  assert.deepEqual(besideCue({ lanes: [9] }, frame()), { said: "", caution: "" });
});

test("what the file says of a name is one row, and nothing where it says nothing", () => {
  assert.deepEqual(briefOf(frame().lanes[1]), [["Say", "EN-tree /ˈɛntri/"], ["Age class", "35 to 39"]]);
  assert.deepEqual(briefOf(frame().lanes[3]), []);
});

test("a note is one line with a name, or nothing", () => {
  assert.deepEqual(noteOf({ text: " two\nlines\u2028here ", spotter: "Ada\t", lane: "4" }), { fact: "note_sent", text: "two lines here", spotter: "Ada", lane: 4 });
  assert.deepEqual(noteOf({ text: "x", spotter: "Ada", lane: "" }), { fact: "note_sent", text: "x", spotter: "Ada" });
  assert.equal(noteOf({ text: "\n", spotter: "Ada", lane: "" }), undefined);
  assert.equal(noteOf({ text: "x", spotter: " ", lane: "" }), undefined);
});

test("a spotter sees what waits, what is sent and how it stands; what is taken back is gone at once", () => {
  const waiting = [
    { id: "w1", fact: "note_sent", heat: "h", at_ms: 70_000, unix_ms: 1, text: "waits", spotter: "Ada", lane: 2, sender: "s", sequence: 3 },
    { id: "w2", fact: "note_sent", heat: "another", at_ms: 70_000, unix_ms: 1, text: "of another heat", spotter: "Ada", sender: "s", sequence: 4 },
    { id: "w3", fact: "fact_voided", heat: "h", at_ms: 70_000, voids: "b", sender: "s", sequence: 5 },
  ];
  const rows = rowsOf(frame(note("b", "open"), note("a", "pinned")), { waiting, own: (id) => id === "a" });
  assert.deepEqual(rows.map(({ id, own }) => [id, own]), [["w1", true], ["a", true]]);
  assert.equal(rows[0].source, "1:10 · Lane 2 \u2068E2\u2069 · from \u2068Ada\u2069 · waits for the link");
  assert.equal(rows[1].source, "1:05 · from \u2068Ada\u2069 · pinned by a commentator");
});

test("the link is told in words", () => {
  assert.equal(linkText({ up: true, barred: "" }, { count: 0, stay: "" }), "Linked");
  assert.equal(linkText({ up: true, barred: "" }, { count: 2, stay: "" }), "Sending");
  assert.equal(linkText({ up: false, barred: "" }, { count: 2, stay: "do not reload this page" }), "No link: 2 notes wait, do not reload this page");
  assert.equal(linkText({ up: false, barred: "" }, { count: 0, stay: "" }), "No link: what you send waits");
  assert.equal(linkText({ up: false, barred: "Ask for a link" }, { count: 0, stay: "" }), "Ask for a link");
});

test("the desk reads of those in preview what the file says, and of nobody of another heat", () => {
  const subjects = { heat: { id: "h", name: "Heat" }, subjects: { "lane:1": [1], "lane:3": [3] } };
  const item = (params) => ({ view: "starters", params, name: "" });
  assert.deepEqual(introductions(item({ who: "lane:1,lane:3" }), subjects, frame()), [
    { text: "1 \u2068E1\u2069: say EN-tree /ˈɛntri/ · age class 35 to 39 · Won here · Came back", caution: "do not mention the fall" },
  ]);
  assert.deepEqual(introductions({ view: "lineup", params: {}, name: "" }, subjects, frame()).map(({ text }) => text.slice(0, 1)), ["1", "2"]);
  assert.deepEqual(introductions(item({}), subjects, frame()), []);
  assert.deepEqual(introductions(item({ who: "lane:1", heat: "h2" }), subjects, frame()), []);
  assert.deepEqual(introductions(item({ who: "lane:1" }), subjects, undefined), []);
});
