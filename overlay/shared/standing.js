/**
 * A heat as the three pictures read it: who stands where, and the words and numbers beside a name. Pure.
 *
 * @typedef {import("./types.js").HeatFrame} HeatFrame
 * @typedef {import("./types.js").LaneData} LaneData
 *
 * @typedef {object} Group those who compete against each other, best first
 * @property {string} division
 * @property {string} name
 * @property {LaneData[]} lanes
 */

import { formatOf, resultText } from "../formats/registry.js";
import { clockText, placeFigure, timeBehindText } from "./format.js";
import { say } from "./say.js";

/** Lanes without a result: no place is shown, whatever order the frame keeps them in. */
const OUT = new Set(["withdrawn", "did_not_start", "disqualified"]);

/**
 * Whether the lane is out of the heat: withdrew, did not start, or was disqualified.
 *
 * @param {{status: string}} lane
 * @returns {boolean}
 */
export function isOut(lane) {
  return OUT.has(lane.status);
}

/**
 * Whether the lane's result stands and will not change by counting.
 *
 * @param {{status: string}} lane
 * @returns {boolean}
 */
export function isDone(lane) {
  return lane.status !== "ready" && lane.status !== "working";
}

/**
 * Give the lanes by division, in the order of the competition, each from the best to the last.
 *
 * @param {HeatFrame} frame
 * @param {readonly number[]} [order] lanes from the best to the last; the frame's own unless a page holds it back
 * @returns {Group[]}
 */
export function groups(frame, order = frame.order) {
  const lanes = order.map((number) => frame.lanes[number]).filter((lane) => lane !== undefined);
  const found = Object.entries(frame.divisions).map(([division, { name }]) => ({
    division,
    name,
    lanes: lanes.filter((lane) => lane.division === division),
  }));
  return found.filter((group) => group.lanes.length > 0);
}

/**
 * Name a heat, with its division unless there are several or the name has it already: Heat 2 · Women; Women, heat 2.
 *
 * @param {{heat: {name: string}, divisions: Record<string, {name: string}>}} frame
 * @returns {string}
 */
export function heatTitle({ heat, divisions }) {
  const names = Object.values(divisions).map((division) => division.name);
  return names.length !== 1 || hasWords(heat.name, names[0]) ? heat.name : `${heat.name} · ${names[0]}`;
}

/**
 * The title of a picture whose places are those in the heat; the place in the event is another number.
 *
 * @param {HeatFrame} frame
 * @returns {string}
 */
export function placesTitle(frame) {
  return placesCount(frame) ? say("shared.places_title", { heat: heatTitle(frame) }) : heatTitle(frame);
}

/**
 * Whether a text has these words, as whole words: "Women" does not have "men".
 *
 * @param {string} text
 * @param {string} words
 */
function hasWords(text, words) {
  const exact = words.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");
  return new RegExp(`(?<![\\p{L}\\p{N}])${exact}(?![\\p{L}\\p{N}])`, "iu").test(text);
}

/**
 * Give the lanes as they stand on the floor.
 *
 * @param {HeatFrame} frame
 * @returns {LaneData[]}
 */
export function floorOrder(frame) {
  return Object.values(frame.lanes).sort((a, b) => a.lane - b.lane);
}

/**
 * Whether places mean anything yet: before the first rep all share first place, which tells nobody anything.
 *
 * @param {HeatFrame} frame
 * @returns {boolean}
 */
export function placesCount(frame) {
  return frame.leader.lane !== undefined;
}

/**
 * The place as shown: 3, or =3 when it is shared; nothing after a withdrawal or while no work is done.
 *
 * @param {HeatFrame} frame
 * @param {Pick<LaneData, "place" | "shared" | "status">} lane
 * @returns {string}
 */
export function placeText(frame, lane) {
  if (!placesCount(frame) || isOut(lane)) return "";
  return placeFigure(lane);
}

/**
 * Whether the lane leads its division on the count, alone or level with others.
 *
 * @param {HeatFrame} frame
 * @param {Pick<LaneData, "place" | "status">} lane
 * @returns {boolean}
 */
export function leads(frame, lane) {
  return placesCount(frame) && lane.place === 1 && !isOut(lane);
}

/**
 * How a lane is drawn: its status, `leading` while it works and leads, `out` when it is out of the heat.
 *
 * @param {HeatFrame} frame
 * @param {Pick<LaneData, "place" | "status">} lane
 * @returns {string}
 */
export function lookOf(frame, lane) {
  if (isOut(lane)) return "out";
  return lane.status === "working" && leads(frame, lane) ? "leading" : lane.status;
}

/**
 * The one figure of a lane, as announced: its count while it counts (45), then what it got (11:42.318, CAP+4, 96 kg).
 *
 * @param {Pick<LaneData, "result">} lane
 * @returns {string}
 */
export function figureText({ result }) {
  return /^(\d+) reps?$/.exec(result)?.[1] ?? resultText(result);
}

/** @param {Pick<LaneData, "result">} lane */
function letters(lane) {
  return figureText(lane).replace(/[\u2066-\u2069]/g, "").length;
}

/** The longest count: 1110. */
const COUNT_LETTERS = 4;

/**
 * Whether a figure needs the room of a result: somebody is done, or a count in words is as long (2 bars + 1, 92 kg).
 *
 * @param {Pick<HeatFrame, "lanes">} frame
 * @returns {boolean}
 */
export function hasResults({ lanes }) {
  return Object.values(lanes).some((lane) => isDone(lane) || letters(lane) > COUNT_LETTERS);
}

/** A figure with more letters than a finishing time (12:54.900) is long. */
const LONG_FIGURE = 9;

/**
 * Whether any figure is so long that all are set narrower: figures of one column look alike.
 *
 * @param {HeatFrame} frame
 * @returns {boolean}
 */
export function hasLongFigures({ lanes }) {
  return Object.values(lanes).some((lane) => letters(lane) > LONG_FIGURE);
}

/** A short form has at most so many letters (docs/competition-file.md). */
const SHORT_MOST = 24;

/**
 * Whether any name has no short form although it is long.
 *
 * @param {HeatFrame} frame
 * @returns {boolean}
 */
export function hasLongNames({ lanes }) {
  return Object.values(lanes).some(({ short }) => short.length > SHORT_MOST);
}

/**
 * What the lane trails the leader by: reps while it works (fewer: −12), time once it has finished (later: +4.3 s), load
 * in a lift (less: −4 kg). A capped lane shows its count here, because its figure says something else.
 *
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @param {LaneData | undefined} leader of the same division
 * @returns {string}
 */
export function gapText(frame, lane, leader) {
  if (isOut(lane)) return "";
  if (lane.status === "capped") return say("shared.reps_short", { n: lane.scored_reps });
  if (lane.finish_ms === undefined) return scoreBehindText(frame, lane, lane.gap_leader);
  const behind = lane.finish_ms - (leader?.finish_ms ?? lane.finish_ms);
  return behind > 0 ? timeBehindText(behind) : "";
}

/**
 * A gap in what the format scores: reps, or load in a lift (docs/frames.md: there it is thousandths of the unit).
 *
 * @param {HeatFrame} frame
 * @param {Pick<LaneData, "result">} lane
 * @param {number} gap
 * @returns {string}
 */
export function scoreBehindText(frame, lane, gap) {
  return formatOf(frame.event).behind(lane, gap);
}

/**
 * Name where a lane is in the work: round 3 of 5, round 3 when rounds repeat until the time is up, the piece it last
 * worked in, or the movement when there are no rounds to speak of.
 *
 * @param {HeatFrame["event"]} event
 * @param {Pick<LaneData, "round" | "movement" | "reached_ms">} [lane]
 * @returns {string}
 */
export function roundText(event, lane) {
  return formatOf(event).where(event, lane);
}

/**
 * What the clock runs to: a cap on fixed work, or the time that is the work.
 *
 * @param {HeatFrame} frame
 * @returns {string}
 */
export function limitText({ clock, event }) {
  return say(event.laps === undefined ? "shared.of_time" : "shared.cap", { time: clockText(clock.cap_ms) });
}
