/**
 * Who stands on which lane before the heat begins: the lane in a frame, the name over a line about the athlete, and a
 * figure.
 * @typedef {import("../shared/types.js").Starter} Starter
 * @typedef {import("../shared/standing.js").Group} Group
 */

import { part, setAttr, setText } from "../shared/dom.js";
import { fitName } from "../shared/fit.js";
import { make } from "../shared/make.js";
import { drawCells, isUpright, setShape } from "./cells.js";
import { layOutCells } from "./layout.js";
import { drawHeads } from "./ranking.js";

/**
 * @typedef {object} About what is said of one
 * @property {string} about
 * @property {string} [brief] where there is no room for that
 * @property {string} [figure]
 * @property {string} [note]
 */

/** @returns {HTMLElement} */
export function createStarters() {
  return make("deck starters", "deck", make("deck-rulers", "heads"), make("deck-rows", "rows"));
}

function createStarter() {
  const words = [make("row-place", "place"), make("row-name name", "name"), make("starter-about name", "about")];
  return make("row starter", "row", ...words, make("row-figure", "figure"), make("starter-note", "note"));
}

/**
 * @template {Starter} Who
 * @param {HTMLElement} deck made by createStarters
 * @param {{divisions: Record<string, {name: string}>, lanes: Record<string, Who>}} heat
 * @param {(lane: Who) => About} aboutOf
 */
export function drawStarters(deck, { divisions, lanes }, aboutOf) {
  const floor = Object.values(lanes).sort((a, b) => a.lane - b.lane);
  const groups = Object.entries(divisions).map(([division, { name }]) => ({
    division,
    name,
    lanes: /** @type {any[]} */ (floor.filter((lane) => lane.division === division)),
  }));
  const layout = layOutCells(groups.filter((group) => group.lanes.length), { upright: isUpright() });
  setShape(deck, layout);
  drawHeads(part(deck, "heads"), layout, ["", ""]);
  setAttr(part(deck, "heads"), "hidden", layout.heads.length === 0);
  drawCells(part(deck, "rows"), layout, createStarter, (row, { lane }) => drawStarter(row, lane, aboutOf(/** @type {any} */ (lane))));
}

/**
 * @param {HTMLElement} row
 * @param {Starter} lane
 * @param {About} about
 */
function drawStarter(row, lane, { about, brief = about, figure = "", note = "" }) {
  setText(part(row, "place"), lane.lane);
  setText(part(row, "figure"), figure);
  setText(part(row, "note"), note);
  setAttr(row, "data-figure", figure !== "");
  fitName(part(row, "name"), lane.name, lane.short);
  fitName(part(row, "about"), about, brief);
}
