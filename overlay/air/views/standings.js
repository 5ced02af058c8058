/**
 * The overall standing of a division before the event and as it stands in it: place, how many places won or lost, points
 * gained and all points. `who` marks somebody and shows that division and page.
 *
 * @typedef {import("../../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../../shared/types.js").StandingsRow} StandingsRow
 */

import { part, setAttr, setText } from "../../shared/dom.js";
import { placeFigure } from "../../shared/format.js";
import { say } from "../../shared/say.js";
import { isSigned } from "../life.js";
import { createTable } from "../ranking.js";

/** @type {import("../air.js").View} */
export const view = { watch: "standings", official: false, who: "", create };

/**
 * @param {HTMLElement} root
 * @param {import("../who.js").Pick} pick
 * @param {import("../../shared/types.js").Params} params
 * @returns {import("../air.js").Picture}
 */
function create(root, pick, params) {
  return createTable(root, pick, params, {
    tableOf: (frame, division) => frame.standings?.[division],
    said: (frame, division) => [isSigned(frame) ? say("air.overall_standing") : say("air.overall_stands"), heatsText(frame, division)],
    heads: [say("air.this_event"), say("air.points")],
    drawRow,
    look: (deck, rows) => setAttr(deck, "data-moves", rows.some((row) => row.before)),
  });
}

/**
 * @param {HeatFrame} frame
 * @param {string} division
 */
function heatsText(frame, division) {
  const { heats = 0, raced = 0 } = frame.standings?.[division] ?? {};
  return raced === heats ? say("air.won_lost", { event: frame.event.name }) : say("air.heats_raced", { raced, heats, event: frame.event.name });
}

/**
 * @param {HTMLElement} row
 * @param {StandingsRow} data
 */
function drawRow(row, data) {
  const moved = data.before ? data.before.place - data.place : 0;
  setAttr(row, "data-leads", data.place === 1);
  setText(part(row, "place"), placeFigure(data));
  setAttr(part(row, "move"), "data-way", moved > 0 ? "up" : moved < 0 ? "down" : "level");
  setText(part(row, "move"), moved === 0 ? "" : Math.abs(moved));
  setText(part(row, "gap"), gainedText(data));
  setText(part(row, "figure"), data.total);
}

/** @param {StandingsRow} data */
function gainedText({ gained, raced }) {
  if (gained === undefined || (!raced && gained === 0)) return "";
  return gained < 0 ? `−${-gained}` : `+${gained}`;
}
