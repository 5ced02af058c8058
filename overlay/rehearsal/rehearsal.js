/** Steering a rehearsal: `/rehearsal/#key=…` with the key of the table or of the graphics desk. */

import { asked } from "../shared/asked.js";
import { clockText } from "../shared/format.js";
import { keyedChildren, part, setAttr, setText, stamp } from "../shared/dom.js";
import { refusalText } from "../shared/refusal.js";
import { keyFrom } from "../shared/key.js";
import { languageCode, say } from "../shared/say.js";
import { changeText, heatAt, heatClockAt, howText, momentMs, momentRows, typedClock } from "./state.js";

/** @typedef {import("./state.js").Staged} Staged */

const LOOK_EVERY_MS = 1000;
const SPEEDS = [0.25, 0.5, 1, 2, 4, 10, 30, 60];
const STEP_MS = 10_000;
const root = document.body;
const letters = document.fonts.load("600 16px Asap");
const key = keyFrom(location);
/** @param {string} name */
const input = (name) => /** @type {HTMLInputElement} */ (part(root, name));
/** @param {string} name */
const choice = (name) => /** @type {HTMLSelectElement} */ (part(root, name));
/** @type {Staged | undefined} */
let staged;
let heardMs = 0;
let turn = 0;
/** Wishes that are not answered yet. */
let open = 0;
let held = false;

/**
 * Ask the server, to steer (with a body) or where the rehearsal is; only the newest answer counts. Nobody asks where it is
 * while a wish is on its way, whose answer would then not be told.
 *
 * @param {object} [wish]
 */
async function ask(wish) {
  if (!wish && open) return;
  const mine = (turn += 1);
  open += wish ? 1 : 0;
  const answer = await asked(`../rehearsal?lang=${languageCode}`, key, wish);
  open -= wish ? 1 : 0;
  if (mine !== turn) return;
  if (!answer) tell(say("crew.no_answer"), true);
  else if (answer.ok) take(answer.data, wish !== undefined);
  else tell(answer.status === 401 ? say("rehearsal.no_key") : refusalText(answer.data), true);
}

/**
 * @param {string} text
 * @param {boolean} [wrong]
 */
function tell(text, wrong = false) {
  setText(part(root, "said"), text);
  void letters.then(() => setAttr(part(root, "body"), "data-waits", false));
  setAttr(part(root, "said"), "data-wrong", wrong);
}

/**
 * @param {Staged} data
 * @param {boolean} done it is the answer to a wish
 */
function take(data, done) {
  const first = !staged;
  [staged, heardMs] = [data, performance.now()];
  if (first) offer(data);
  if (first || done) tell(say("rehearsal.follow"));
  setText(part(root, "play"), say(data.playing ? "rehearsal.pause" : "rehearsal.play"));
  setAttr(part(root, "unloop"), "disabled", !data.loop);
  setAttr(part(root, "undo"), "disabled", !data.changes.length);
  if (document.activeElement !== choice("speed")) choice("speed").value = String(nearest(data.speed));
  const changes = new Map(data.changes.map((change, index) => [String(index), change]));
  keyedChildren(part(root, "changes"), [...changes.keys()], () => document.createElement("li"), (item, index) => {
    const change = changes.get(index);
    if (change) setText(item, changeText(change, data.heats));
  });
  showMarks(data);
  showLanes();
  showMoments(data);
}

/** @param {number} speed */
function nearest(speed) {
  return SPEEDS.reduce((best, each) => (Math.abs(each - speed) < Math.abs(best - speed) ? each : best));
}

/** @param {Staged} data */
function offer({ heats }) {
  choice("speed").replaceChildren(...SPEEDS.map((speed) => new Option(`${speed} ×`, String(speed))));
  choice("heat").replaceChildren(...heats.map(({ id, title }) => new Option(title, id)));
  choice("heat").value = heatAt(heats, now())?.id ?? "";
}

/** @param {Staged} data */
function showMarks({ moments, length_ms }) {
  const shown = new Map(moments.map((each, index) => [`${index} ${each.kind} ${each.moment_ms} ${length_ms}`, each]));
  keyedChildren(part(root, "marks"), [...shown.keys()], makeMark, (mark, name) => {
    const { kind, moment_ms } = /** @type {import("./state.js").StagedMoment} */ (shown.get(name));
    setAttr(mark, "data-kind", kind);
    const at = `${((100 * moment_ms) / length_ms).toFixed(2)}%`;
    if (mark.style.insetInlineStart !== at) mark.style.insetInlineStart = at;
  });
}

function makeMark() {
  const mark = document.createElement("div");
  mark.className = "mark";
  return mark;
}

function showLanes() {
  const heat = staged?.heats.find(({ id }) => id === choice("heat").value);
  const lanes = Object.entries(heat?.lanes ?? {});
  const shown = [...choice("lane").options].map(({ text }) => text).join();
  const names = lanes.map(([lane, name]) => `${lane} ${name}`);
  if (shown !== names.join()) choice("lane").replaceChildren(...lanes.map(([lane], index) => new Option(names[index], lane)));
}

/** @param {Staged} data */
function showMoments(data) {
  const rows = new Map(momentRows(data, now()).map((row) => [row.key, row]));
  const newest = [...rows.values()].filter(({ past }) => past).at(-1)?.key;
  keyedChildren(part(root, "moments"), [...rows.keys()], (name) => makeMoment(rows.get(name)?.moment_ms ?? 0), (item, name) => {
    const { at, kind, what, past } = /** @type {ReturnType<typeof momentRows>[number]} */ (rows.get(name));
    setText(part(item, "at"), at);
    setText(part(item, "kind"), kind);
    setText(part(item, "what"), what);
    setAttr(item, "data-past", name === newest ? "newest" : past);
  });
}

/** @param {number} moment_ms */
function makeMoment(moment_ms) {
  const item = stamp(root, "moment-template");
  item.addEventListener("click", () => ask({ do: "to", moment_ms }));
  return item;
}

function now() {
  return staged ? momentMs(staged, performance.now() - heardMs) : 0;
}

function paint() {
  if (staged) {
    const atMs = now();
    const heat = heatAt(staged.heats, atMs);
    setText(part(root, "title"), heat?.title ?? "");
    setText(part(root, "clock"), clockText(heatClockAt(heat, atMs)));
    setText(part(root, "how"), howText(staged, atMs));
    setAttr(part(root, "line"), "max", Math.ceil(staged.length_ms / 1000) * 1000);
    if (!held) input("line").value = String(atMs);
    setAttr(part(root, "line"), "aria-valuetext", say("rehearsal.position", { at: clockText(atMs), length: clockText(staged.length_ms) }));
  }
  requestAnimationFrame(paint);
}

/** @type {Record<string, () => object>} */
const WISHES = {
  back: () => ({ do: "by", ms: -STEP_MS }),
  ahead: () => ({ do: "by", ms: STEP_MS }),
  last: () => ({ do: "last", kind: choice("kind").value }),
  next: () => ({ do: "next", kind: choice("kind").value }),
  unloop: () => ({ do: "unloop" }),
  undo: () => ({ do: "undo" }),
};

/**
 * @param {string} form
 * @param {() => object} wish may throw what is wrong with what was typed
 */
function onSubmit(form, wish) {
  part(root, form).addEventListener("submit", (event) => {
    event.preventDefault();
    try {
      void ask(wish());
    } catch (error) {
      tell(error instanceof Error ? error.message : String(error), true);
    }
  });
}

for (const button of root.querySelectorAll("[data-ask]")) {
  button.addEventListener("click", () => ask(WISHES[button.getAttribute("data-ask") ?? ""]()));
}
part(root, "play").addEventListener("click", () => ask({ do: staged?.playing ? "pause" : "play" }));
choice("speed").addEventListener("change", () => ask({ do: "speed", speed: Number(choice("speed").value) }));
choice("heat").addEventListener("change", showLanes);
input("line").addEventListener("input", () => (held = true));
input("line").addEventListener("change", () => {
  held = false;
  void ask({ do: "to", moment_ms: Math.min(Number(input("line").value), staged?.length_ms ?? 0) });
});
onSubmit("to-form", () => ({ do: "to", heat: choice("heat").value, at_ms: typedClock(input("to").value) }));
onSubmit("loop-form", () => ({
  do: "loop",
  heat: choice("heat").value,
  at_ms: typedClock(input("loop-from").value),
  until_ms: typedClock(input("loop-to").value),
}));
onSubmit("change-form", () => {
  const heat = staged?.heats.find(({ id }) => id === choice("heat").value);
  const typed = input("change-at").value;
  const at_ms = typed.trim() ? typedClock(typed) : Math.round(heatClockAt(heat, now()));
  return { do: "what_if", change: choice("change").value, heat: choice("heat").value, lane: Number(choice("lane").value), at_ms };
});
setAttr(part(root, "home"), "href", key ? `../home/#key=${key}` : "../home/");
void ask();
setInterval(() => void ask(), LOOK_EVERY_MS);
requestAnimationFrame(paint);
