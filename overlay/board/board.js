/**
 * The venue board: every lane as it stands on the floor, legible from the last row.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../shared/workline.js").WorkLine} WorkLine
 */

import { createCalm } from "../shared/calm.js";
import { keyedChildren, part, setAttr, setText, setVar } from "../shared/dom.js";
import { createLine, drawLine, drawRuler } from "../shared/drawline.js";
import { fitName, refitAll } from "../shared/fit.js";
import { clockText, ordinal } from "../shared/format.js";
import { watchLive } from "../shared/live.js";
import { make } from "../shared/make.js";
import { figureText, floorOrder, hasLongFigures, heatTitle, isDone, isLift, leads, limitText, lookOf, placeText, roundText } from "../shared/standing.js";
import { along, layOut, roundsOnLine } from "../shared/workline.js";

/** More lanes than this stand in two columns: below, a row would be too low for its letters. */
const MOST_IN_ONE = 10;
/** Up to so many lanes, a row has the height for a second line. */
const MOST_TALL = 4;
const RULER_GAP = { 1: 0.06, 2: 0.12 };

const board = part(document, "board");

await document.fonts.load("600 54px Asap", "Aā0");
run();

function run() {
  /** @type {HeatFrame | undefined} */
  let shown;
  /** @type {Date | undefined} */
  let heardAt;
  const draw = (/** @type {HeatFrame} */ frame) => {
    shown = frame;
    drawBoard(frame);
  };
  const take = createCalm(draw);
  watchLive("heat", {
    frame(frame) {
      heardAt = new Date();
      take(frame);
    },
    tick(clockMs, frame) {
      setText(part(board, "clock"), clockText(clockMs ?? 0));
      setText(part(board, "cap"), limitText(frame));
    },
    link: ({ up }) => setText(part(board, "link"), up || !heardAt ? "" : `Reconnecting: last picture ${timeOfDay(heardAt)}`),
  });
  addEventListener("resize", () => {
    refitAll();
    if (shown) drawBoard(shown);
  });
}

/** @param {Date} date */
function timeOfDay(date) {
  return [date.getHours(), date.getMinutes(), date.getSeconds()].map((part) => String(part).padStart(2, "0")).join(":");
}

/** @param {HeatFrame} frame */
function drawBoard(frame) {
  const lanes = floorOrder(frame);
  setAttr(board, "data-rehearsal", frame.mode === "rehearsal");
  setAttr(part(board, "rehearsal"), "hidden", frame.mode !== "rehearsal");
  setAttr(part(board, "empty"), "hidden", lanes.length > 0);
  setText(part(board, "empty"), "No lanes in this heat");
  drawHead(frame);
  drawRows(frame, lanes);
}

/** @param {HeatFrame} frame */
function drawHead(frame) {
  fitName(part(board, "event"), frame.event.name, frame.event.name);
  fitName(part(board, "heat"), heatTitle(frame), frame.heat.name);
  setText(part(board, "round"), stateText(frame));
}

/** @param {HeatFrame} frame */
function stateText(frame) {
  if (frame.heat.status === "waiting") return "Waiting for the start";
  if (frame.heat.status === "over") return "Heat over";
  const leader = frame.leader.lane === undefined ? undefined : frame.lanes[frame.leader.lane];
  return roundText(frame.event, leader);
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData[]} lanes
 */
function drawRows(frame, lanes) {
  const columns = lanes.length > MOST_IN_ONE ? 2 : 1;
  const rounds = roundsOnLine(frame.event, lanes);
  const work = layOut(frame.event, rounds);
  setAttr(board, "data-columns", columns);
  setAttr(board, "data-waiting", frame.heat.status === "waiting");
  setAttr(board, "data-over", frame.heat.status === "over");
  setAttr(board, "data-results", lanes.some(isDone));
  setVar(board, "--columns", String(columns));
  setVar(board, "--rows", String(Math.max(1, Math.ceil(lanes.length / columns))));
  setAttr(board, "data-long", hasLongFigures(frame));
  setAttr(board, "data-tall", lanes.length <= MOST_TALL);
  drawRulers(work, lanes.length ? columns : 0, isLift(frame.event) ? "attempts" : "reps");
  const byLane = new Map(lanes.map((lane) => [String(lane.lane), lane]));
  keyedChildren(part(board, "rows"), [...byLane.keys()], makeRow, (row, key) => {
    const lane = /** @type {LaneData} */ (byLane.get(key));
    drawRow(row, frame, lane, work, along(frame.event, lane, rounds));
  });
}

/**
 * @param {WorkLine} work
 * @param {number} columns
 * @param {string} unit
 */
function drawRulers(work, columns, unit) {
  const keys = Array.from({ length: columns }, (_, index) => index);
  keyedChildren(part(board, "rulers"), keys, () => make("ruler"), (ruler) => {
    setAttr(ruler, "data-unit", unit);
    drawRuler(ruler, work, RULER_GAP[/** @type {1 | 2} */ (columns)]);
  });
}

function makeRow() {
  return make(
    "row",
    "row",
    make("row-lane", "lane"),
    make("row-name name", "name"),
    make("row-home name", "home"),
    make("row-sub", "", make("row-division", "division"), make("row-movement name", "movement"), make("row-next", "next")),
    make("row-figure", "figure"),
    make("row-place", "place"),
    createLine(),
  );
}

/**
 * @param {HTMLElement} row
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @param {WorkLine} work
 * @param {number} at
 */
function drawRow(row, frame, lane, work, at) {
  const waiting = frame.heat.status === "waiting";
  setAttr(row, "data-leads", leads(frame, lane));
  setAttr(row, "data-state", lookOf(frame, lane));
  setText(part(row, "lane"), lane.lane);
  setText(part(row, "division"), Object.keys(frame.divisions).length > 1 ? frame.divisions[lane.division].name : "");
  setText(part(row, "movement"), lane.status === "working" ? lane.movement : "");
  setText(part(row, "next"), lane.status === "working" && !isLift(frame.event) ? `to ${lane.next_mark}` : "");
  setText(part(row, "figure"), waiting ? "" : figureText(lane));
  setText(part(row, "place"), placeWords(frame, lane));
  drawLine(part(row, "line"), work, at, lookOf(frame, lane));
  fitName(part(row, "name"), lane.name, lane.short); // last: it measures, and what is drawn after that would slide in
  fitName(part(row, "home"), lane.home, lane.home);
}

/**
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 */
function placeWords(frame, lane) {
  const place = placeText(frame, lane);
  return place && `${lane.shared ? "=" : ""}${ordinal(lane.place)}`;
}
