/**
 * The finish card, for each athlete who comes in: the time, the place, the distance to the winner, what the place is
 * worth as it stands, and when each round ended.
 * @typedef {import("../../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../../shared/types.js").LaneData} LaneData
 */

import { keyedChildren, part, setText, setVar } from "../../shared/dom.js";
import { clockText } from "../../shared/format.js";
import { make } from "../../shared/make.js";
import { say } from "../../shared/say.js";
import { groups } from "../../shared/standing.js";
import { labelled, roundsOnLine } from "../../shared/workline.js";
import { drawCardIn, drawFacts, worthFacts } from "../card.js";
import { roundTimes } from "../marks.js";
import { apart } from "../words.js";

/** Times under the line stand no nearer than this part of it. */
const TIME_GAP = 0.1;

/** @type {import("../air.js").View} */
export const view = { watch: "gaps", official: false, who: "finisher", create };

/**
 * @param {HTMLElement} root
 * @param {import("../who.js").Pick} pick
 * @returns {import("../air.js").Picture}
 */
function create(root, pick) {
  root.append(make("panel", "panel", make("slot", "slot"), make("ruler times", "times"), make("facts", "facts")));
  return {
    draw(frame) {
      const [lane] = pick(frame);
      if (!lane || lane.status !== "finished") return false;
      drawTimes(part(root, "times"), frame, lane);
      drawFacts(part(root, "facts"), [[say("air.behind_winner"), behind(frame, lane)], ...worthFacts(frame, lane)]);
      drawCardIn(part(root, "slot"), frame, lane);
      return true;
    },
    tick: () => undefined,
  };
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 */
function behind(frame, lane) {
  const winner = groups(frame).find((group) => group.division === lane.division)?.lanes[0];
  return winner && winner.place < lane.place ? apart(frame, winner, lane).score : "";
}

/**
 * When each round ended, under its end. The last is the result itself.
 *
 * @param {HTMLElement} times
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 */
function drawTimes(times, frame, lane) {
  const rounds = roundsOnLine(frame.event, Object.values(frame.lanes));
  const ends = roundTimes(frame.event, lane, rounds);
  const shown = new Set(labelled(ends.map((end) => ({ ...end, scored: 0 })), TIME_GAP).map((end) => end.round));
  const byRound = new Map(ends.filter((end) => shown.has(end.round) && end.round < rounds).map((end) => [String(end.round), end]));
  keyedChildren(times, [...byRound.keys()], () => make("ruler-mark"), (mark, round) => {
    const end = byRound.get(round);
    setText(mark, clockText(end?.at_ms ?? 0));
    setVar(mark, "--at", (end?.at ?? 0).toFixed(4));
  });
}
