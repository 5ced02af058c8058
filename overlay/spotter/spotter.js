/**
 * The spotter's page: `/spotter/#key=…`, and `&floor=ID` of several floors. Somebody at the floor sends short notes to
 * the commentators. Nothing that is sent from here is ever on the air or in a result.
 */

import { BoothLink } from "../booth/link.js";
import { NOTE_MOST } from "../booth/notes.js";
import { beTheOnlyWindow, deviceStorage } from "../shared/device.js";
import { keyedChildren, part, setAttr, setText, stamp } from "../shared/dom.js";
import { heatAsked } from "../shared/floor.js";
import { clockText, isolate } from "../shared/format.js";
import { keyFrom } from "../shared/key.js";
import { arrived, renewFor, stayWords } from "../shared/program.js";
import { say } from "../shared/say.js";
import { linkText, noteOf, rowsOf } from "./words.js";

const NAME = "tallywire.spotter.name";
const OWN = "tallywire.spotter.own";
/** Who was on the floor last, for a page that opens without the network. */
const FLOOR_LAST = "tallywire.spotter.floor";
const TICK_MS = 200;
/** Nobody takes back a note that is further back than these. */
const OWN_KEPT = 200;

const root = document.body;
const storage = deviceStorage();
const form = /** @type {HTMLFormElement} */ (part(root, "say"));
const text = /** @type {HTMLInputElement} */ (part(root, "said"));
const spotter = /** @type {HTMLInputElement} */ (part(root, "spotter"));
/** The ids of the notes of this device. @type {string[]} */
let own = read(OWN, []);
let keptHeat = "";
const link = new BoothLink({
  role: "spotter",
  key: keyFrom(location),
  heat: heatAsked(new URLSearchParams(location.search)),
  storage,
  changed: draw,
  welcomed: (pages) => renewFor(pages, mayLose),
});

link.frame ??= read(FLOOR_LAST, undefined);

/** A reload now would lose something. */
function mayLose() {
  return text.value !== "" || (link.outbox.count > 0 && !link.outbox.queue.durable);
}

/** @param {SubmitEvent} event */
function send(event) {
  event.preventDefault();
  const lane = String(new FormData(form).get("lane") ?? "");
  const note = noteOf({ text: text.value, spotter: spotter.value, lane });
  if (!note || !link.frame) return;
  link.say({ ...note, unix_ms: link.unixMs });
  own = [...own, link.outbox.queue.waiting.at(-1)?.id ?? ""].slice(-OWN_KEPT);
  keep(OWN, own);
  text.value = "";
  text.focus();
  draw();
}

/** @param {import("./words.js").Row} row */
function takeBack({ id, lane }) {
  link.say({ fact: "fact_voided", voids: id, ...(lane !== undefined && { lane }) });
}

function draw() {
  const { frame, outbox, refused } = link;
  setText(part(root, "link"), linkText(link, { count: outbox.count, stay: stayWords() }));
  setAttr(part(root, "link"), "data-down", !link.up || link.barred !== "");
  setText(part(root, "fault"), faultText(refused));
  setText(part(root, "left"), say("spotter.letters_left", { count: NOTE_MOST - text.value.length }));
  setAttr(part(root, "send"), "disabled", !frame || link.barred !== "");
  if (frame) drawHeat(frame);
}

/** @param {string} refused */
function faultText(refused) {
  if (!link.outbox.queue.durable) return say("spotter.not_kept");
  return refused && say("spotter.not_taken", { why: refused });
}

/** @param {import("../booth/types.js").BoothFrame} frame */
function drawHeat(frame) {
  if (frame.heat.id !== keptHeat) keep(FLOOR_LAST, { ...frame, notes: {}, order: [] });
  keptHeat = frame.heat.id;
  setAttr(part(root, "work"), "hidden", false); // all at once: nothing moves under a thumb
  setText(part(root, "heat"), frame.heat.name);
  setAttr(part(root, "rehearsal"), "hidden", frame.mode !== "rehearsal");
  keyedChildren(part(root, "lanes"), ["", ...Object.keys(frame.lanes)], makeLane, (label, lane) => {
    setText(part(label, "name"), lane ? `${lane} ${isolate(frame.lanes[lane].short)}` : say("spotter.no_lane"));
  });
  const rows = new Map(rowsOf(frame, { waiting: link.outbox.queue.waiting, own: (id) => own.includes(id) }).map((row) => [row.id, row]));
  keyedChildren(part(root, "notes"), [...rows.keys()], () => stamp(root, "note-template"), (line, id) => {
    const row = /** @type {import("./words.js").Row} */ (rows.get(id));
    setText(part(line, "text"), row.text);
    setText(part(line, "source"), row.source);
    setAttr(part(line, "back"), "hidden", !row.own);
    part(line, "back").onclick = () => takeBack(row);
  });
  setAttr(part(root, "none"), "hidden", rows.size > 0);
}

/** @param {string} lane its number, empty for none */
function makeLane(lane) {
  const label = stamp(root, "lane-template");
  const input = /** @type {HTMLInputElement} */ (label.querySelector("input"));
  [input.value, input.checked] = [lane, lane === ""];
  return label;
}

/**
 * @param {string} name
 * @param {unknown} value
 */
function keep(name, value) {
  try {
    storage.setItem(name, JSON.stringify(value));
  } catch {
    // The queue says when the storage is full.
  }
}

/**
 * @template T
 * @param {string} name
 * @param {T} otherwise
 * @returns {T}
 */
function read(name, otherwise) {
  try {
    return JSON.parse(storage.getItem(name) ?? "null") ?? otherwise;
  } catch {
    return otherwise;
  }
}

text.maxLength = NOTE_MOST;
spotter.value = read(NAME, "");
spotter.addEventListener("change", () => keep(NAME, spotter.value));
text.addEventListener("input", draw);
form.addEventListener("submit", send);
beTheOnlyWindow("spotter", () => {
  link.close();
  link.barred = say("spotter.other_window");
  draw();
});
setInterval(() => {
  const ms = link.clockMs();
  setText(part(root, "clock"), ms === undefined ? "–:––" : clockText(ms));
}, TICK_MS);
draw();
arrived(draw);
