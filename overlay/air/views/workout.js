/**
 * The workout card: every station with its amount and loads, and the cumulative numbers crews steer by, over the line
 * of work. Nothing on it comes from the heat, so there is nothing unofficial about it.
 */

import { formatOf } from "../../formats/registry.js";
import { keyedChildren, part, setAttr, setText, setVar } from "../../shared/dom.js";
import { createLine, drawLine, drawRuler } from "../../shared/drawline.js";
import { fitName } from "../../shared/fit.js";
import { clockText } from "../../shared/format.js";
import { make } from "../../shared/make.js";
import { say } from "../../shared/say.js";
import { layOut, roundsOnLine } from "../../shared/workline.js";
import { formatText, stationCard } from "../stations.js";

/** More stations than this stand in two columns. */
const MOST_IN_ONE = 9;

/** @type {import("../air.js").View} */
export const view = { watch: "heat", official: true, create };

/**
 * @param {HTMLElement} root
 * @returns {import("../air.js").Picture}
 */
function create(root) {
  const title = make("head-title", "", make("head-event name", "event"), make("head-label name", "format"));
  const cap = make("workout-cap", "", make("head-time", "cap"), make("head-label", "cap-label"));
  const work = make("workout-work", "", make("ruler times", "ruler"), createLine());
  root.append(make("panel workout", "panel", make("workout-head", "", title, cap), make("stations", "stations"), work));
  return { draw: (frame) => draw(root, frame), tick: () => undefined };
}

/**
 * @param {HTMLElement} root
 * @param {import("../../shared/types.js").HeatFrame} frame
 */
function draw(root, frame) {
  const { event, clock } = frame;
  const { heads, rows } = stationCard(frame);
  const work = layOut(event, roundsOnLine(event, []));
  setText(part(root, "cap"), clockText(clock.cap_ms));
  setText(part(root, "cap-label"), event.laps === undefined ? say("air.time") : say("air.time_cap"));
  setAttr(part(root, "stations"), "data-split", rows.length > MOST_IN_ONE);
  setAttr(part(root, "stations"), "data-loads", rows.some((row) => row.loads));
  setVar(part(root, "stations"), "--heads", String(heads.length));
  setVar(part(root, "stations"), "--rows", String(Math.ceil(rows.length / 2)));
  setAttr(part(root, "ruler"), "data-unit", say(`shared.unit_${formatOf(event).unit}`));
  drawRuler(part(root, "ruler"), work, 0.08);
  drawLine(part(root, "line"), work, 0, "ready");
  const all = rows.length > MOST_IN_ONE ? rows : [{ amount: "", movement: "", loads: "", ends: heads }, ...rows];
  keyedChildren(part(root, "stations"), all.map((_, index) => index), createStation, (element, index) => {
    drawStation(element, all[Number(index)]);
  });
  fitName(part(root, "event"), event.name, event.name);
  fitName(part(root, "format"), formatText(event), formatText(event));
}

function createStation() {
  const texts = [make("station-amount", "amount"), make("station-movement name", "movement"), make("station-loads name", "loads")];
  return make("station", "row", ...texts, make("station-ends", "ends"));
}

/**
 * @param {HTMLElement} element
 * @param {import("../stations.js").StationRow} row
 */
function drawStation(element, { amount, movement, loads, ends }) {
  setAttr(element, "data-heads", movement === "");
  setAttr(part(element, "loads"), "hidden", loads === "");
  setText(part(element, "amount"), amount);
  keyedChildren(part(element, "ends"), ends.map((_, index) => index), () => make("station-end"), (end, index) => setText(end, ends[Number(index)]));
  fitName(part(element, "movement"), movement, movement);
  fitName(part(element, "loads"), loads, loads);
}
