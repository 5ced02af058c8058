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
  return make("line", "line", make("line-track", "", make("line-fill")), make("line-cuts", "cuts"), make("line-bead"));
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
  setVar(line, "--at", at.toFixed(4));
  setAttr(line, "data-state", state);
  const knots = work.knots.slice(0, -1).map((knot) => `k${knot.at.toFixed(4)}`);
  const ticks = work.ticks.map((where) => `t${where.toFixed(4)}`);
  keyedChildren(part(line, "cuts"), [...knots, ...ticks], makeCut, () => undefined);
}

/**
 * Write the cumulative numbers at the ends of the rounds, no nearer to each other than `gap` of the width.
 *
 * @param {HTMLElement} ruler
 * @param {WorkLine} work
 * @param {number} gap 0 to 1
 */
export function drawRuler(ruler, work, gap) {
  const knots = new Map(labelled(work.knots, gap).map((knot) => [String(knot.round), knot]));
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
