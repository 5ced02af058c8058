/**
 * The run-in to the cap: the time left against the work each lane has left. A bar is the work at the lane's own pace so
 * far; the upright mark is the cap, which comes nearer; work beyond the mark will not be done at that pace.
 *
 * @typedef {import("../../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../../shared/types.js").LaneData} LaneData
 */

import { part, setAttr, setText, setVar } from "../../shared/dom.js";
import { drawLine } from "../../shared/drawline.js";
import { fitName } from "../../shared/fit.js";
import { clockText } from "../../shared/format.js";
import { make } from "../../shared/make.js";
import { say } from "../../shared/say.js";
import { figureText, groups, hasLongFigures, hasResults, leads, lookOf, placesTitle, placeText } from "../../shared/standing.js";
import { along, layOut, roundsOnLine } from "../../shared/workline.js";
import { createRow, drawCells, isUpright, setShape } from "../cells.js";
import { createHead, drawHead, finishedText } from "../head.js";
import { layOutCells } from "../layout.js";
import { neededMs, widthMs } from "../need.js";

/** @type {import("../air.js").View} */
export const view = { watch: "heat", official: false, create };

/**
 * @param {HTMLElement} root
 * @returns {import("../air.js").Picture}
 */
function create(root) {
  const head = createHead();
  const deck = make("deck runin", "deck", head, make("deck-rows", "rows"));
  root.append(deck);
  return {
    draw(frame) {
      drawHead(head, frame, [finishedText(frame), say("air.bars")], placesTitle(frame));
      const layout = layOutCells(groups(frame), { upright: isUpright() });
      setShape(deck, layout);
      setAttr(deck, "data-results", hasResults(frame));
      setAttr(deck, "data-long", hasLongFigures(frame));
      drawCells(part(deck, "rows"), layout, createNeed, (row, { lane }) => drawRow(row, frame, lane));
    },
    tick(clockMs, frame) {
      const left = Math.max(0, frame.clock.cap_ms - (clockMs ?? 0));
      setText(part(head, "clock"), clockText(left + 999)); // a time left is 0:00 only when nothing is left
      setText(part(head, "cap"), say("air.left_of", { time: clockText(frame.clock.cap_ms) }));
      setVar(deck, "--wide", String(widthMs(left)));
      setVar(deck, "--left", (left / widthMs(left)).toFixed(3));
    },
  };
}

function createNeed() {
  const row = createRow();
  row.append(make("need", "need", make("need-fill"), make("need-over"), make("need-cap")));
  return row;
}

/**
 * @param {HTMLElement} row
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 */
function drawRow(row, frame, lane) {
  const needed = neededMs(frame, lane);
  const rounds = roundsOnLine(frame.event, Object.values(frame.lanes));
  setAttr(row, "data-leads", leads(frame, lane));
  setAttr(row, "data-state", lookOf(frame, lane));
  setText(part(row, "place"), placeText(frame, lane));
  const counts = lane.status === "working" && lane.reps_to_go !== undefined;
  setAttr(row, "data-counts", counts);
  setText(part(row, "figure"), counts ? String(lane.reps_to_go) : figureText(lane));
  setText(part(row, "gap"), counts ? say("air.to_go") : "");
  setAttr(part(row, "line"), "hidden", needed !== undefined);
  setAttr(part(row, "need"), "hidden", needed === undefined);
  setVar(part(row, "need"), "--need", String(Math.round(needed ?? 0)));
  drawLine(part(row, "line"), layOut(frame.event, rounds), along(frame.event, lane, rounds), lookOf(frame, lane));
  fitName(part(row, "name"), lane.name, lane.short);
}
