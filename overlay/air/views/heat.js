/**
 * The heat standing: every lane by place along the bottom of the picture, each over its own line of work.
 *
 * @typedef {import("../../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../../shared/types.js").LaneData} LaneData
 * @typedef {import("../air.js").Picture} Picture
 * @typedef {import("../../shared/standing.js").Group} Group
 *
 * @typedef {import("../layout.js").Cell} Cell
 * @typedef {import("../layout.js").Layout} Layout
 */

import { keyedChildren, part, setAttr, setText, setVar } from "../../shared/dom.js";
import { createLine, drawLine, drawRuler } from "../../shared/drawline.js";
import { fitName } from "../../shared/fit.js";
import { clockText } from "../../shared/format.js";
import { make } from "../../shared/make.js";
import { figureText, floorOrder, gapText, groups, hasLongFigures, isDone, isLift, leads, limitText, lookOf, placeText, roundText } from "../../shared/standing.js";
import { layOutCells } from "../layout.js";
import { along, layOut, roundsOnLine } from "../../shared/workline.js";

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
      drawHead(head, frame);
      drawDeck(deck, frame);
    },
    tick: (clockMs, frame) => drawClock(head, clockMs, frame),
  };
}

function createHead() {
  return make(
    "head",
    "head",
    make("head-title", "", make("head-event name", "event"), make("head-label name", "heat")),
    make("head-round", "leader", make("head-value", "round"), make("head-label", "movement")),
    make("head-clock", "", make("head-time", "clock"), make("head-label", "cap")),
  );
}

/**
 * @param {HTMLElement} head
 * @param {HeatFrame} frame
 */
function drawHead(head, frame) {
  const names = Object.values(frame.divisions).map((division) => division.name);
  const heat = names.length === 1 ? `${frame.heat.name} · ${names[0]}` : frame.heat.name;
  fitName(part(head, "event"), frame.event.name, frame.event.name);
  fitName(part(head, "heat"), heat, frame.heat.name);
  const [value, label] = stateWords(frame);
  setText(part(head, "round"), value);
  setText(part(head, "movement"), label);
}

/**
 * What the heat is at: the round the leader is in and the movement there, or why there is none.
 *
 * @param {HeatFrame} frame
 * @returns {[string, string]} value, label
 */
function stateWords(frame) {
  const leader = frame.leader.lane === undefined ? undefined : frame.lanes[frame.leader.lane];
  if (frame.heat.status === "over") return ["Heat over", "numbers await the head judge"];
  if (frame.heat.status === "waiting") return ["Start list", "waiting for the start"];
  if (!leader) return [roundText(frame.event), "under way"];
  if (leader.status === "finished") return ["Leader finished", finishedText(frame)];
  return [roundText(frame.event, leader), `leader · ${leader.movement}`];
}

/** @param {HeatFrame} frame */
function finishedText({ lanes }) {
  const all = Object.values(lanes);
  return `${all.filter((lane) => lane.status === "finished").length} of ${all.length} finished`;
}

/**
 * @param {HTMLElement} head
 * @param {number | undefined} clockMs
 * @param {HeatFrame} frame
 */
function drawClock(head, clockMs, frame) {
  setText(part(head, "clock"), clockText(clockMs ?? 0));
  setText(part(head, "cap"), limitText(frame));
}

/**
 * @param {HTMLElement} deck
 * @param {HeatFrame} frame
 */
function drawDeck(deck, frame) {
  const waiting = frame.heat.status === "waiting";
  const layout = layOutCells(groups(frame, waiting ? floorOrder(frame).map((lane) => lane.lane) : frame.order));
  const rounds = roundsOnLine(frame.event, Object.values(frame.lanes));
  const work = layOut(frame.event, rounds);
  setLooks(deck, frame, layout);
  drawRulers(part(deck, "rulers"), work, layout, isLift(frame.event) ? "attempts" : "reps");
  const byKey = new Map(layout.cells.map((cell) => [cell.key, cell]));
  // In the order of their keys, not of their places: a row that moves is not put elsewhere in the document.
  keyedChildren(part(deck, "rows"), [...byKey.keys()].sort(), makeCell, (element, key) => {
    const cell = /** @type {Cell} */ (byKey.get(key));
    place(element, cell);
    if (cell.lane) drawRow(element, frame, cell.lane, cell.group, { work, at: along(frame.event, cell.lane, rounds) });
    else setText(element, cell.group.name);
  });
}

/**
 * @param {HTMLElement} deck
 * @param {HeatFrame} frame
 * @param {Layout} layout
 */
function setLooks(deck, frame, { columns, rows }) {
  setAttr(deck, "data-waiting", frame.heat.status === "waiting");
  setAttr(deck, "data-results", Object.values(frame.lanes).some(isDone));
  setAttr(deck, "data-long", hasLongFigures(frame));
  setAttr(deck, "data-columns", columns);
  setAttr(deck, "data-size", rows > 6 ? "small" : rows > 3 ? "middle" : "large");
  setVar(deck, "--rows", String(rows));
  setVar(deck, "--columns", String(columns));
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

/** @param {string} key */
function makeCell(key) {
  if (key.startsWith("division")) return make("division");
  return make(
    "row",
    "row",
    make("row-place", "place"),
    make("row-name name", "name"),
    make("row-gap", "gap"),
    make("row-figure", "figure"),
    createLine(),
  );
}

/**
 * Put a cell where it belongs. Within a column it slides; to another column it fades in at its new place, because a
 * row that flies across the picture draws the eye away from the sport.
 *
 * @param {HTMLElement} element
 * @param {Cell} cell
 */
function place(element, { column, row }) {
  const before = element.style.getPropertyValue("--column");
  const jumps = before !== "" && before !== String(column);
  if (jumps && !matchMedia("(prefers-reduced-motion: reduce)").matches) {
    element.animate([{ opacity: 0 }, { opacity: 1 }], { duration: 500, easing: "ease-out" });
  }
  setAttr(element, "data-jumps", jumps);
  setVar(element, "--column", String(column));
  setVar(element, "--row", String(row));
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
