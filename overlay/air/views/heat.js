/**
 * The heat standing: every lane by place along the bottom of the picture, each over its own line of work.
 *
 * @typedef {import("../../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../../shared/types.js").LaneData} LaneData
 * @typedef {import("../air.js").Picture} Picture
 * @typedef {import("../../shared/standing.js").Group} Group
 *
 * @typedef {import("../layout.js").Layout} Layout
 */

import { formatOf } from "../../formats/registry.js";
import { keyedChildren, part, setAttr, setText } from "../../shared/dom.js";
import { drawLine, drawRuler } from "../../shared/drawline.js";
import { fitName } from "../../shared/fit.js";
import { make } from "../../shared/make.js";
import { say } from "../../shared/say.js";
import { figureText, floorOrder, gapText, groups, hasLongFigures, hasResults, leads, lookOf, placesTitle, placeText } from "../../shared/standing.js";
import { along, layOut, roundsOnLine } from "../../shared/workline.js";
import { createRow, drawCells, isUpright, setShape } from "../cells.js";
import { createHead, drawClock, drawHead } from "../head.js";
import { layOutCells } from "../layout.js";

/** Numbers on the ruler stand no nearer than this part of a column. */
const RULER_GAP = { 1: 0.05, 2: 0.09, 3: 0.14 };

/** @type {import("../air.js").View} */
export const view = { watch: "heat", official: false, create };

/**
 * @param {HTMLElement} root
 * @returns {Picture}
 */
function create(root) {
  const head = createHead();
  const rulers = make("deck-rulers", "rulers");
  const rows = make("deck-rows", "rows");
  const deck = make("deck", "deck", head, rulers, rows);
  root.append(deck);
  return {
    draw(frame) {
      drawHead(head, frame, undefined, placesTitle(frame));
      drawDeck(deck, frame);
    },
    tick: (clockMs, frame) => drawClock(head, clockMs, frame),
  };
}

/**
 * @param {HTMLElement} deck
 * @param {HeatFrame} frame
 */
function drawDeck(deck, frame) {
  const waiting = frame.heat.status === "waiting";
  const layout = layOutCells(groups(frame, waiting ? floorOrder(frame).map((lane) => lane.lane) : frame.order), { upright: isUpright() });
  const rounds = roundsOnLine(frame.event, Object.values(frame.lanes));
  const work = layOut(frame.event, rounds);
  setAttr(deck, "data-waiting", waiting);
  setAttr(deck, "data-results", hasResults(frame));
  setAttr(deck, "data-long", hasLongFigures(frame));
  setShape(deck, layout);
  drawRulers(part(deck, "rulers"), work, layout, say(`shared.unit_${formatOf(frame.event).unit}`));
  drawCells(part(deck, "rows"), layout, createRow, (row, { lane, group }) => {
    drawRow(row, frame, lane, group, { work, at: along(frame.event, lane, rounds) });
  });
}

/**
 * @param {HTMLElement} rulers
 * @param {import("../../shared/workline.js").WorkLine} work
 * @param {Layout} layout
 * @param {string} unit
 */
function drawRulers(rulers, work, { columns, heads }, unit) {
  const keys = Array.from({ length: columns }, (_, index) => index);
  const makeRuler = () => make("deck-ruler", "", make("deck-head name", "head"), make("ruler", "ruler"));
  keyedChildren(rulers, keys, makeRuler, (ruler, key) => {
    const head = heads[Number(key)];
    setAttr(part(ruler, "head"), "hidden", head === undefined);
    setText(part(ruler, "head"), head ?? "");
    setAttr(part(ruler, "ruler"), "data-unit", unit);
    drawRuler(part(ruler, "ruler"), work, RULER_GAP[/** @type {1 | 2 | 3} */ (columns)]);
  });
}

/**
 * @param {HTMLElement} row
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @param {Group} group
 * @param {{work: import("../../shared/workline.js").WorkLine, at: number}} line
 */
function drawRow(row, frame, lane, group, line) {
  const waiting = frame.heat.status === "waiting";
  setAttr(row, "data-leads", leads(frame, lane));
  setAttr(row, "data-state", lookOf(frame, lane));
  setText(part(row, "place"), waiting ? lane.lane : placeText(frame, lane));
  setText(part(row, "gap"), waiting ? "" : gapText(frame, lane, group.lanes[0]));
  setText(part(row, "figure"), waiting ? "" : figureText(lane));
  drawLine(part(row, "line"), line.work, line.at, lookOf(frame, lane));
  fitName(part(row, "name"), lane.name, lane.short); // last: it measures, and what is drawn after that would slide in
}
