/**
 * The result of a heat: everybody in the order they ended, over their line of work, with what the place is worth. The
 * mark says how official the result is, and so do words beside the event.
 * @typedef {import("../../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../../shared/types.js").LaneData} LaneData
 */

import { part, setAttr, setText } from "../../shared/dom.js";
import { drawLine } from "../../shared/drawline.js";
import { fitName } from "../../shared/fit.js";
import { make } from "../../shared/make.js";
import { say } from "../../shared/say.js";
import { figureText, groups, hasLongFigures, isOut, leads, lookOf, placeText } from "../../shared/standing.js";
import { along, layOut, roundsOnLine } from "../../shared/workline.js";
import { createRow, drawCells, isUpright, setShape } from "../cells.js";
import { createTitle, drawHead } from "../head.js";
import { layOutCells } from "../layout.js";
import { drawHeads } from "../ranking.js";

const WORDS = {
  live: say("air.stage.live"),
  provisional: say("air.stage.provisional"),
  official: say("air.stage.official"),
  amended: say("air.stage.amended"),
};

/** @type {import("../air.js").View} */
export const view = { watch: "result", official: false, create };

/**
 * @param {HTMLElement} root
 * @returns {import("../air.js").Picture}
 */
function create(root) {
  const head = createTitle();
  const deck = make("deck result", "deck", head, make("deck-rulers", "heads"), make("deck-rows", "rows"));
  root.append(deck);
  return {
    draw(frame) {
      drawHead(head, frame, [say("air.heat_result"), WORDS[frame.result?.stage ?? "live"]]);
      const layout = layOutCells(groups(frame), { upright: isUpright(), over: true });
      const work = layOut(frame.event, roundsOnLine(frame.event, Object.values(frame.lanes)));
      setShape(deck, layout);
      setAttr(deck, "data-results", true);
      setAttr(deck, "data-long", hasLongFigures(frame));
      drawHeads(part(deck, "heads"), layout, [say("air.points"), say("air.result")]);
      drawCells(part(deck, "rows"), layout, createRow, (row, { lane }) => drawRow(row, frame, lane, work));
    },
    tick: () => undefined,
  };
}

/**
 * @param {HTMLElement} row
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @param {import("../../shared/workline.js").WorkLine} work
 */
function drawRow(row, frame, lane, work) {
  setAttr(row, "data-leads", leads(frame, lane));
  setAttr(row, "data-state", lookOf(frame, lane));
  setText(part(row, "place"), placeText(frame, lane));
  setText(part(row, "gap"), isOut(lane) && !lane.points ? "" : (lane.points ?? ""));
  setText(part(row, "figure"), figureText(lane));
  drawLine(part(row, "line"), work, along(frame.event, lane, work.rounds), lookOf(frame, lane));
  fitName(part(row, "name"), lane.name, lane.short);
}
