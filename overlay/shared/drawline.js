/**
 * Drawing the line of work: one track with a filled part, cut by knots (ends of rounds) and ticks (ends of stations),
 * and a bead where the lane is. The looks are in parts.css.
 *
 * @typedef {import("./workline.js").WorkLine} WorkLine
 * @typedef {import("./workline.js").Knot} Knot
 */

import { keyedChildren, part, setAttr, setText, setVar } from "./dom.js";
import { make } from "./make.js";
import { labelled } from "./workline.js";

/**
 * Make an empty line.
 *
 * @returns {HTMLElement}
 */
export function createLine() {
  return make("line", "line", make("line-track", "", make("line-fill", "fill")), make("line-cuts", "cuts"), make("line-bead", "bead"));
}

/**
 * Draw a lane's line.
 *
 * @param {HTMLElement} line made by createLine
 * @param {WorkLine} work
 * @param {number} at 0 to 1
 * @param {string} state a lane's status, `leading` for a working lane that leads, `out` for one that is out of the heat
 */
export function drawLine(line, work, at, state) {
  move(line, at);
  setAttr(line, "data-state", state);
  if (cutFor.get(line) === work) return;
  cutFor.set(line, work);
  const knots = work.knots.slice(0, -1).map((knot) => `k${knot.at.toFixed(4)}`);
  const ticks = work.ticks.map((where) => `t${where.toFixed(4)}`);
  keyedChildren(part(line, "cuts"), [...knots, ...ticks], makeCut, () => undefined);
}

/** @typedef {{at: number, ms: number, running: Animation[]}} Moved */

/** @type {WeakMap<HTMLElement, Moved>} where each line is, and since when */
const moved = new WeakMap();
/** As --step and --ease of tokens.css. */
const STEP = { duration: 240, easing: "cubic-bezier(0.35, 0, 0.15, 1)" };
const still = typeof matchMedia === "undefined" ? undefined : matchMedia("(prefers-reduced-motion: reduce)");

/**
 * Let the line slide to where the lane is. One that moves again before it is there goes there at once: forty slides at a
 * time, each begun anew twenty-five times a second, cost more than all the rest of a picture.
 *
 * @param {HTMLElement} line
 * @param {number} at
 */
function move(line, at) {
  const last = moved.get(line);
  if (last?.at === at) return;
  const [now, ways] = [performance.now(), ends(line, at)];
  for (const each of last?.running ?? []) each.cancel();
  for (const [element, transform] of ways) element.style.transform = transform;
  const slides = last && now - last.ms >= STEP.duration && !still?.matches;
  const from = slides ? ends(line, last.at) : [];
  const running = from.map(([element, before], index) => element.animate([{ transform: before }, { transform: ways[index][1] }], STEP));
  moved.set(line, { at, ms: now, running });
}

/**
 * @param {HTMLElement} line
 * @param {number} at
 * @returns {[HTMLElement, string][]}
 */
function ends(line, at) {
  return [
    [part(line, "fill"), `scaleX(${at.toFixed(4)})`],
    [part(line, "bead"), `translateX(${(100 * at).toFixed(2)}%)`],
  ];
}

/** @type {WeakMap<HTMLElement, WorkLine>} what each line is cut for */
const cutFor = new WeakMap();

/** Numbers begin so many gaps from the left of a ruler where their unit stands. */
const UNIT_GAPS = 1.6;

/** @type {WeakMap<HTMLElement, {work: WorkLine, gap: number}>} what stands on each ruler */
const ruled = new WeakMap();

/**
 * Write the cumulative numbers at the ends of the rounds, no nearer to each other than `gap` of the width.
 *
 * @param {HTMLElement} ruler
 * @param {WorkLine} work
 * @param {number} gap 0 to 1
 */
export function drawRuler(ruler, work, gap) {
  const last = ruled.get(ruler);
  if (last?.work === work && last.gap === gap) return;
  ruled.set(ruler, { work, gap });
  const from = ruler.hasAttribute("data-unit") ? UNIT_GAPS * gap : 0;
  const knots = new Map(labelled(work.knots, gap, from).map((knot) => [String(knot.round), knot]));
  keyedChildren(ruler, [...knots.keys()], () => make("ruler-mark"), (mark, round) => {
    const knot = /** @type {Knot} */ (knots.get(round));
    setText(mark, knot.scored);
    setVar(mark, "--at", knot.at.toFixed(4));
  });
}

/** @param {string} key `k` or `t`, then where */
function makeCut(key) {
  const cut = make(key.startsWith("k") ? "line-knot" : "line-tick");
  setVar(cut, "--at", key.slice(1));
  return cut;
}
