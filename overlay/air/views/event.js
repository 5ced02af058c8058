/**
 * The result of an event over all its heats, one division at a time: place, result and points; live while heats still
 * race. `who` marks somebody and shows that division and page; `part` is one of several scores, the first without it.
 *
 * @typedef {import("../../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../../shared/types.js").RankingRow} RankingRow
 */

import { part, setAttr, setText } from "../../shared/dom.js";
import { placeFigure } from "../../shared/format.js";
import { say } from "../../shared/say.js";
import { figureText, isOut } from "../../shared/standing.js";
import { isSigned } from "../life.js";
import { createTable } from "../ranking.js";

/** A figure with more letters is set narrower. */
const LONG_FIGURE = 9;

/** @type {import("../air.js").View} */
export const view = { watch: "event", official: false, who: "", create };

/**
 * @param {HTMLElement} root
 * @param {import("../who.js").Pick} pick
 * @param {import("../../shared/types.js").Params} params
 * @returns {import("../air.js").Picture}
 */
function create(root, pick, params) {
  return createTable(root, pick, params, {
    tableOf: (frame, name) => frame.ranking?.[name],
    said: (frame, division) => [isSigned(frame) ? say("air.event_result") : say("air.event_now"), heatsText(frame, division)],
    heads: [say("air.points"), say("air.result")],
    drawRow,
    look(deck, rows) {
      setAttr(deck, "data-racing", rows.some((row) => !row.settled));
      setAttr(deck, "data-long", rows.some((row) => figureText(row).length > LONG_FIGURE));
    },
  });
}

/**
 * @param {HeatFrame} frame
 * @param {string} division
 */
function heatsText(frame, division) {
  const { heats = 0, raced = 0, over = 0 } = frame.ranking?.[division] ?? {};
  if (over === heats) return heats === 1 ? say("air.one_heat") : say("air.after_all", { n: heats });
  return raced > over ? say("air.heats_over_floor", { over, heats, on: raced - over }) : say("air.heats_over", { over, heats });
}

/**
 * @param {HTMLElement} row
 * @param {RankingRow} data
 */
function drawRow(row, data) {
  const out = isOut(data);
  setAttr(row, "data-leads", data.place === 1 && !out);
  setAttr(row, "data-state", out ? "out" : data.status);
  setText(part(row, "place"), out ? "" : placeFigure(data));
  setText(part(row, "about"), data.settled ? "" : say("air.on_floor"));
  setText(part(row, "gap"), out && !data.points ? "" : data.points);
  setText(part(row, "figure"), figureText(data));
}
