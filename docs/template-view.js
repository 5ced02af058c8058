/**
 * A view to begin with: how many are home, and who came in last. Copy it to overlay/air/views/NAME.js, give it a line in
 * the catalogue (server/tallywire/core/show/catalogue.py), and it is on the desk.
 *
 * @typedef {import("../../shared/types.js").HeatFrame} HeatFrame
 */

import { part, setAttr, setText } from "../../shared/dom.js";
import { fitName } from "../../shared/fit.js";
import { make } from "../../shared/make.js";
import { say } from "../../shared/say.js";
import { figureText, lookOf } from "../../shared/standing.js";

/**
 * `watch`: the view on the wire that feeds this one (docs/frames.md). `official`: whether the mark may be left out, true only
 * if nothing on it was raced. `who`: whom it is about unless the operator says otherwise; leave it out for a whole heat.
 *
 * @type {import("../air.js").View}
 */
export const view = { watch: "heat", official: false, who: "finisher", create };

/**
 * Build the elements once. Pieces are found again by their second name, their looks are in the first.
 *
 * @param {HTMLElement} root
 * @param {import("../who.js").Pick} pick gives the lanes of `who` in a frame
 * @returns {import("../air.js").Picture}
 */
function create(root, pick) {
  const row = make("row-of-one", "row", make("head-value name", "name"), make("head-value", "figure"));
  root.append(make("panel", "panel", make("head-label", "count"), row));
  return {
    // Comes with every frame. Write what it says, and only by these helpers: they touch the page where something changed.
    // Give false when there is nothing to show: then the picture goes, marks and all.
    draw(frame) {
      const [lane] = pick(frame);
      if (!lane) return false;
      setText(part(root, "count"), countText(frame));
      setText(part(root, "figure"), figureText(lane));
      setAttr(row, "data-state", lookOf(frame, lane));
      fitName(part(root, "name"), lane.name, lane.short); // last, because it measures
      return true;
    },
    // Comes before every picture the browser paints: only for what runs by itself, such as a clock.
    tick: () => undefined,
  };
}

/**
 * Words come from the catalogues in server/tallywire/languages.
 *
 * @param {HeatFrame} frame
 */
function countText({ lanes }) {
  const all = Object.values(lanes);
  return say("air.finished_of", { n: all.filter(({ status }) => status === "finished").length, of: all.length });
}
