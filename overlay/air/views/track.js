/**
 * The track: all lanes as they stand on the floor, on one course of the work. A station is as long as the time it is
 * expected to take. Rows never move; the bead that has come furthest shows who leads.
 *
 * @typedef {import("../../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../../shared/types.js").LaneData} LaneData
 * @typedef {import("../../shared/workline.js").WorkLine} WorkLine
 */

import { formatOf } from "../../formats/registry.js";
import { keyedChildren, part, setAttr, setText } from "../../shared/dom.js";
import { createLine, drawLine, drawRuler } from "../../shared/drawline.js";
import { fitName } from "../../shared/fit.js";
import { make } from "../../shared/make.js";
import { say } from "../../shared/say.js";
import { figureText, floorOrder, hasLongFigures, isDone, isOut, leads, lookOf } from "../../shared/standing.js";
import { along, layOut, roundsOnLine } from "../../shared/workline.js";
import { createHead, drawClock, drawHead } from "../head.js";

/** @type {import("../air.js").View} */
export const view = { watch: "heat", official: false, create };

/**
 * @param {HTMLElement} root
 * @returns {import("../air.js").Picture}
 */
function create(root) {
  const head = createHead();
  const top = make("track-top", "", make("track-unit", "unit"), make("ruler", "ruler"));
  root.append(make("panel", "panel", head, make("track-course", "course", top, make("track-rows", "rows"))));
  return {
    draw(frame) {
      drawHead(head, frame);
      drawCourse(part(root, "course"), frame);
    },
    tick: (clockMs, frame) => drawClock(head, clockMs, frame),
  };
}

/**
 * @param {HTMLElement} course
 * @param {HeatFrame} frame
 */
function drawCourse(course, frame) {
  const lanes = floorOrder(frame);
  const rounds = roundsOnLine(frame.event, lanes);
  const work = layOut(frame.event, rounds);
  setAttr(course, "data-size", lanes.length > 12 ? "small" : lanes.length > 4 ? "middle" : "large");
  setAttr(course, "data-results", lanes.some((lane) => isDone(lane) && !isOut(lane)));
  setAttr(course, "data-long", hasLongFigures(frame));
  setText(part(course, "unit"), say(`shared.unit_${formatOf(frame.event).unit}`));
  drawRuler(part(course, "ruler"), work, 0.09);
  keyedChildren(part(course, "rows"), lanes.map(({ lane }) => lane), createRow, (row, lane) => {
    drawRow(row, frame, frame.lanes[lane], work);
  });
}

function createRow() {
  return make("track-row", "row", make("track-lane", "lane"), make("track-name name", "name"), createLine(), make("track-figure", "figure"));
}

/**
 * @param {HTMLElement} row
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @param {WorkLine} work
 */
function drawRow(row, frame, lane, work) {
  setAttr(row, "data-leads", leads(frame, lane));
  setAttr(row, "data-state", lookOf(frame, lane));
  setText(part(row, "lane"), lane.lane);
  setText(part(row, "figure"), frame.heat.status === "waiting" ? "" : figureText(lane));
  drawLine(part(row, "line"), work, along(frame.event, lane, work.rounds), lookOf(frame, lane));
  fitName(part(row, "name"), lane.name, lane.short);
}
