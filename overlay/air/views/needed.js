/**
 * What one athlete needs in this event for the overall standing: places with which it leads, for certain or with luck,
 * what is out of reach, and whom it must beat by how many places. Exact, whatever the others do; no forecast.
 *
 * @typedef {import("../needs.js").NeedLine} NeedLine
 */

import { keyedChildren, part, setAttr, setText } from "../../shared/dom.js";
import { fitName } from "../../shared/fit.js";
import { make } from "../../shared/make.js";
import { drawCardIn } from "../card.js";
import { needLines } from "../needs.js";

/** @type {import("../air.js").View} */
export const view = { watch: "call", official: false, who: "leader", create };

/**
 * @param {HTMLElement} root
 * @param {import("../who.js").Pick} pick
 * @returns {import("../air.js").Picture}
 */
function create(root, pick) {
  root.append(make("panel", "panel", make("slot", "slot"), make("needs", "needs")));
  return {
    draw(frame) {
      const [lane] = pick(frame);
      const lines = lane ? needLines(frame, lane) : [];
      if (!lane || !lines.length) return false;
      keyedChildren(part(root, "needs"), lines.map((_, index) => index), createNeed, (row, index) => drawNeed(row, lines[Number(index)]));
      drawCardIn(part(root, "slot"), frame, lane);
      return true;
    },
    tick: () => undefined,
  };
}

function createNeed() {
  return make("need-line", "", make("need-label", "label"), make("need-rival name", "rival"), make("need-value name", "value"));
}

/**
 * @param {HTMLElement} row
 * @param {NeedLine} line
 */
function drawNeed(row, { label, rival, value }) {
  setAttr(row, "data-rival", rival !== undefined);
  setAttr(part(row, "rival"), "hidden", rival === undefined);
  setText(part(row, "label"), label);
  fitName(part(row, "rival"), rival ?? "", rival ?? "");
  fitName(part(row, "value"), value, value);
}
