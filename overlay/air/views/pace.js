/**
 * The pace of up to four athletes: how far each was behind the first of them at every mark, and under it how long each
 * round took. The fastest of each round is underlined. Drawn from splits alone; nothing is drawn beyond the last.
 *
 * @typedef {import("../../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../../shared/types.js").LaneData} LaneData
 */

import { keyedChildren, part, setAttr, setText, setVar } from "../../shared/dom.js";
import { drawRuler } from "../../shared/drawline.js";
import { fitName } from "../../shared/fit.js";
import { clockText } from "../../shared/format.js";
import { make } from "../../shared/make.js";
import { say } from "../../shared/say.js";
import { leads } from "../../shared/standing.js";
import { labelled, layOut, roundsOnLine } from "../../shared/workline.js";
import { createChart, drawChart } from "../drawchart.js";
import { createHead, drawClock, drawHead } from "../head.js";
import { roundTimes } from "../marks.js";

const MOST = 4;
const TIME_GAP = 0.12;

/** @type {import("../air.js").View} */
export const view = { watch: "gaps", official: false, who: "place:1,place:2,place:3", create };

/**
 * @param {HTMLElement} root
 * @param {import("../who.js").Pick} pick
 * @returns {import("../air.js").Picture}
 */
function create(root, pick) {
  const head = createHead();
  const [chart, rows] = [createChart(), make("pace-rows", "rows")];
  const numbers = make("pace-row track-top", "", make("track-unit", "", say("shared.unit_reps")), make("ruler", "ruler"));
  root.append(make("panel pace", "panel", head, chart, numbers, rows));
  return {
    draw(frame) {
      const lanes = pick(frame).slice(0, MOST);
      if (!lanes.length) return false;
      drawHead(head, frame, [say("air.behind_fastest"), say("air.round_times")]);
      drawChart(chart, frame, lanes);
      drawRuler(part(numbers, "ruler"), layOut(frame.event, roundsOnLine(frame.event, Object.values(frame.lanes))), TIME_GAP);
      drawRows(rows, frame, lanes);
      return true;
    },
    tick: (clockMs, frame) => drawClock(head, clockMs, frame),
  };
}

/**
 * @param {HTMLElement} rows
 * @param {HeatFrame} frame
 * @param {LaneData[]} lanes
 */
function drawRows(rows, frame, lanes) {
  const rounds = roundsOnLine(frame.event, Object.values(frame.lanes));
  const times = lanes.map((lane) => roundTimes(frame.event, lane, rounds));
  const best = Array.from({ length: rounds }, (_, index) =>
    Math.min(...times.flat().filter((time) => time.round === index + 1).map((time) => time.took_ms)),
  );
  keyedChildren(rows, lanes.map((lane) => lane.lane), createRow, (row, key) => {
    const index = lanes.findIndex((lane) => String(lane.lane) === key);
    setAttr(part(row, "mark"), "data-index", index);
    setAttr(part(row, "mark"), "data-leads", leads(frame, lanes[index]));
    drawTimes(part(row, "times"), times[index], lanes.length > 1 ? best : []);
    fitName(part(row, "name"), lanes[index].name, lanes[index].short);
  });
}

function createRow() {
  return make("pace-row fresh", "row", make("pace-mark", "mark"), make("track-name name", "name"), make("ruler", "times"));
}

/**
 * @param {HTMLElement} ruler
 * @param {ReturnType<typeof roundTimes>} times
 * @param {readonly number[]} best
 */
function drawTimes(ruler, times, best) {
  const shown = new Map(labelled(times.map((time) => ({ ...time, scored: 0 })), TIME_GAP).map((time) => [String(time.round), time]));
  keyedChildren(ruler, [...shown.keys()], () => make("ruler-mark"), (mark, round) => {
    const time = times.find((each) => String(each.round) === round);
    setText(mark, clockText(time?.took_ms ?? 0));
    setAttr(mark, "data-best", time?.took_ms === best[Number(round) - 1]);
    setVar(mark, "--at", (time?.at ?? 0).toFixed(4));
  });
}
