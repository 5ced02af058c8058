/**
 * Lane introductions: everybody as they stand on the floor, with where they come from, their place and points overall before
 * this event, and their best place so far. With `who`, one of them large.
 *
 * @typedef {import("../../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../../shared/types.js").LaneData} LaneData
 */

import { part, setAttr } from "../../shared/dom.js";
import { amountText, placeOrdinal } from "../../shared/format.js";
import { make } from "../../shared/make.js";
import { ordinal, say } from "../../shared/say.js";
import { drawCardIn, drawFacts } from "../card.js";
import { createTitle, drawHead } from "../head.js";
import { createStarters, drawStarters } from "../starters.js";

/** @type {import("../air.js").View} */
export const view = { watch: "standings", official: false, who: "", create };

/**
 * @param {HTMLElement} root
 * @param {import("../who.js").Pick} pick
 * @param {import("../../shared/types.js").Params} params
 * @returns {import("../air.js").Picture}
 */
function create(root, pick, { who }) {
  return who ? createOne(root, pick) : createAll(root);
}

/** @param {HTMLElement} root */
function createAll(root) {
  const [head, deck] = [createTitle(), createStarters()];
  deck.prepend(head);
  root.append(deck);
  const draw = (/** @type {HeatFrame} */ frame) => {
    drawHead(head, frame, [say("air.on_lanes"), say("air.overall_before")]);
    drawStarters(deck, frame, (lane) => {
      const { place, points, best } = recordOf(frame, lane);
      return { about: [lane.home, best].filter(Boolean).join(" · "), brief: best || lane.home, figure: place, note: points };
    });
  };
  return { draw, tick: () => undefined };
}

/**
 * @param {HTMLElement} root
 * @param {import("../who.js").Pick} pick
 */
function createOne(root, pick) {
  root.append(make("panel", "panel", make("slot", "slot"), make("facts", "facts")));
  const stage = root.closest("[data-part=stage]");
  if (stage) setAttr(stage, "data-card", true);
  const draw = (/** @type {HeatFrame} */ frame) => {
    const [lane] = pick(frame);
    if (!lane) return false;
    const { place, points, best } = recordOf(frame, lane);
    drawFacts(part(root, "facts"), [[say("air.overall_before"), [place, points].filter(Boolean).join(" · ")], [say("air.best_so_far"), best]]);
    drawCardIn(part(root, "slot"), frame, lane);
    return true;
  };
  return { draw, tick: () => undefined };
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 */
function recordOf(frame, lane) {
  const { before, best } = frame.standings?.[lane.division]?.rows[lane.entry] ?? {};
  return {
    place: before ? placeOrdinal(before) : "",
    points: before ? amountText(before.total, "points") : "",
    best: best ? say("air.place_in", { place: ordinal(best.place), event: best.event }) : "",
  };
}
