/**
 * Drawing the pace chart: one line a lane, told apart by dashes and by the shape at the end of each round. Time runs
 * down: the higher one is ahead.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 */

import { keyedChildren, part, setAttr, setText, setVar } from "../shared/dom.js";
import { clockText } from "../shared/format.js";
import { make } from "../shared/make.js";
import { figures, say } from "../shared/say.js";
import { leads } from "../shared/standing.js";
import { roundsOnLine } from "../shared/workline.js";
import { gapLines, heightMs } from "./chart.js";

const SVG = "http://www.w3.org/2000/svg";
const GRID = [0, 0.5, 1];

/** @returns {HTMLElement} */
export function createChart() {
  const lines = document.createElementNS(SVG, "svg");
  lines.setAttribute("class", "pace-lines");
  lines.setAttribute("viewBox", "0 0 1 1");
  lines.setAttribute("preserveAspectRatio", "none");
  for (let index = 0; index < 4; index += 1) {
    const line = lines.appendChild(document.createElementNS(SVG, "polyline"));
    line.setAttribute("class", "pace-line");
    line.setAttribute("data-index", String(index));
  }
  const chart = make("pace-chart", "chart", make("", "grid"), make("pace-marks", "marks"));
  chart.insertBefore(lines, chart.lastElementChild);
  return chart;
}

/**
 * @param {HTMLElement} chart made by createChart
 * @param {HeatFrame} frame
 * @param {LaneData[]} lanes up to four
 */
export function drawChart(chart, frame, lanes) {
  const lines = gapLines(frame.event, lanes, roundsOnLine(frame.event, Object.values(frame.lanes)));
  const height = heightMs(lines);
  drawGrid(part(chart, "grid"), height);
  chart.querySelectorAll("polyline").forEach((line, index) => {
    const points = (lines[index] ?? []).map(({ x, ms }) => `${x.toFixed(4)},${(ms / height).toFixed(4)}`);
    setAttr(line, "points", points.join(" "));
    setAttr(line, "data-leads", lanes[index] !== undefined && leads(frame, lanes[index]));
  });
  const ends = lines.flatMap((line, index) => line.filter((point) => point.round).map((point) => ({ ...point, index })));
  keyedChildren(part(chart, "marks"), ends.map((end) => `${end.index} ${end.x}`), () => make("pace-mark"), (mark, key) => {
    const end = ends.find(({ index, x }) => `${index} ${x}` === key);
    setAttr(mark, "data-index", end?.index);
    setAttr(mark, "data-leads", end && leads(frame, lanes[end.index]));
    setVar(mark, "--x", (end?.x ?? 0).toFixed(4));
    setVar(mark, "--y", ((end?.ms ?? 0) / height).toFixed(4));
  });
}

/**
 * @param {HTMLElement} grid
 * @param {number} height milliseconds
 */
function drawGrid(grid, height) {
  keyedChildren(grid, GRID, () => make("pace-grid", "", make("pace-second", "second")), (line, key) => {
    const ms = Number(key) * height;
    setVar(line, "--y", key);
    setText(part(line, "second"), ms === 0 ? say("air.level") : figures(ms < 60_000 ? say("shared.second_unit", { time: `+${ms / 1000}` }) : `+${clockText(ms)}`));
  });
}
