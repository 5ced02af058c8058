/**
 * Two athletes against each other. Their lines of work lie face to face with the distance between the beads drawn
 * between them; names and figures are outside.
 *
 * @typedef {import("../../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../../shared/types.js").LaneData} LaneData
 */

import { formatOf } from "../../formats/registry.js";
import { part, setAttr, setText, setVar } from "../../shared/dom.js";
import { drawRuler } from "../../shared/drawline.js";
import { make } from "../../shared/make.js";
import { say } from "../../shared/say.js";
import { placesTitle } from "../../shared/standing.js";
import { along, layOut, roundsOnLine } from "../../shared/workline.js";
import { drawCardIn } from "../card.js";
import { createHead, drawClock, drawHead } from "../head.js";
import { apart } from "../words.js";

/** @type {import("../air.js").View} */
export const view = { watch: "gaps", official: false, who: "leader,place:2", create };

/**
 * @param {HTMLElement} root
 * @param {import("../who.js").Pick} pick
 * @returns {import("../air.js").Picture}
 */
function create(root, pick) {
  const head = createHead();
  const between = make("duel-between", "between", make("duel-span", "span"), make("ruler", "ruler"));
  const gap = make("duel-gap", "gap", make("head-label", "label"), make("duel-score", "score"), make("head-label", "time"));
  root.append(make("panel", "panel", head, make("duel", "", make("slot", "one"), between, make("slot flipped", "two"), gap)));
  return {
    draw(frame) {
      const [one, two] = pick(frame);
      if (!one || !two) return false;
      drawHead(head, frame, undefined, placesTitle(frame));
      drawGap(gap, frame, one, two);
      drawBetween(between, frame, one, two);
      drawCardIn(part(root, "one"), frame, one);
      drawCardIn(part(root, "two"), frame, two);
      return true;
    },
    tick: (clockMs, frame) => drawClock(head, clockMs, frame),
  };
}

/**
 * @param {HTMLElement} gap
 * @param {HeatFrame} frame
 * @param {LaneData} one
 * @param {LaneData} two
 */
function drawGap(gap, frame, one, two) {
  const inOrder = frame.order.indexOf(one.lane) <= frame.order.indexOf(two.lane);
  const { score, time } = one.division !== two.division ? { score: "", time: "" } : inOrder ? apart(frame, one, two) : apart(frame, two, one);
  setText(part(gap, "label"), score && score !== say("air.level") ? say("air.between") : "");
  setText(part(gap, "score"), score);
  setText(part(gap, "time"), time);
}

/**
 * @param {HTMLElement} between
 * @param {HeatFrame} frame
 * @param {LaneData} one
 * @param {LaneData} two
 */
function drawBetween(between, frame, one, two) {
  const rounds = roundsOnLine(frame.event, Object.values(frame.lanes));
  const ends = [one, two].map((lane) => along(frame.event, lane, rounds)).sort((a, b) => a - b);
  setVar(part(between, "span"), "--from", ends[0].toFixed(4));
  setVar(part(between, "span"), "--part", (ends[1] - ends[0]).toFixed(4));
  setAttr(part(between, "ruler"), "data-unit", say(`shared.unit_${formatOf(frame.event).unit}`));
  drawRuler(part(between, "ruler"), layOut(frame.event, rounds), 0.09);
}
