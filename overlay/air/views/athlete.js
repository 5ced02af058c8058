/**
 * One athlete: place, where in the work, the gap, and what the place is worth as it stands.
 *
 * @typedef {import("../../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../../shared/types.js").LaneData} LaneData
 */

import { part } from "../../shared/dom.js";
import { make } from "../../shared/make.js";
import { ordinal, say } from "../../shared/say.js";
import { groups, isOut } from "../../shared/standing.js";
import { drawCardIn, drawFacts, worthFacts } from "../card.js";
import { apart } from "../words.js";

/** @type {import("../air.js").View} */
export const view = { watch: "gaps", official: false, who: "leader", create };

/**
 * @param {HTMLElement} root
 * @param {import("../who.js").Pick} pick
 * @returns {import("../air.js").Picture}
 */
function create(root, pick) {
  root.append(make("panel", "panel", make("slot", "slot"), make("facts", "facts")));
  return {
    draw(frame) {
      const [lane] = pick(frame);
      if (!lane) return false;
      drawFacts(part(root, "facts"), [...gapFacts(frame, lane), ...worthFacts(frame, lane)]);
      drawCardIn(part(root, "slot"), frame, lane);
      return true;
    },
    tick: () => undefined,
  };
}

/**
 * For the leader the picture says by how much it leads; for everybody else, how far ahead the leader and the next place
 * are.
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @returns {[string, string][]}
 */
function gapFacts(frame, lane) {
  if (frame.leader.lane === undefined || isOut(lane)) return [];
  const group = groups(frame).find((each) => each.division === lane.division)?.lanes ?? [];
  const [first, second] = group;
  const better = group.findLast((each) => each.place < lane.place);
  if (lane === first && !second) return [];
  if (lane === first) return both(say("air.ahead_next"), apart(frame, lane, second));
  if (!better || better === first) return both(say("air.behind_leader"), apart(frame, first, lane));
  return [[say("air.behind_leader"), apart(frame, first, lane).score], ...both(say("air.to_place", { place: ordinal(better.place) }), apart(frame, better, lane))];
}

/**
 * @param {string} label
 * @param {{score: string, time: string}} gap
 * @returns {[string, string][]}
 */
function both(label, { score, time }) {
  return [[label, [score, time].filter(Boolean).join(" · ")]];
}
