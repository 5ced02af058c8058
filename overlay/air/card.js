/**
 * An athlete written large: place, name, where in the work, the figure and what it counts, over the line of work; and
 * a strip of facts, each a label over its value.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 */

import { formatOf } from "../formats/registry.js";
import { keyedChildren, part, setAttr, setText } from "../shared/dom.js";
import { createLine, drawLine } from "../shared/drawline.js";
import { fitName } from "../shared/fit.js";
import { amountText, placeFigure } from "../shared/format.js";
import { make } from "../shared/make.js";
import { say } from "../shared/say.js";
import { figureText, isDone, isOut, leads, lookOf, placeText, roundText } from "../shared/standing.js";
import { along, layOut, roundsOnLine } from "../shared/workline.js";

/** A figure with more characters than a finishing time (12:54.900) is set smaller. */
const LONG_FIGURE = 9;

/** What the figure of a lane shows when it is not a count. */
const STATES = ["finished", "capped", "timed", "withdrawn", "did_not_start", "disqualified"];

/** @returns {HTMLElement} */
function createCard() {
  return make(
    "card fresh",
    "card",
    make("card-place", "place"),
    make("card-name name", "name"),
    make("card-about name", "about"),
    make("card-figure", "figure"),
    make("card-note", "note"),
    createLine(),
  );
}

/**
 * Keep the card of one athlete in a slot. Another athlete gets a new card, which fades in: a card that changed its
 * name while its line slid along would look like one athlete's leap.
 *
 * @param {HTMLElement} slot
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 */
export function drawCardIn(slot, frame, lane) {
  keyedChildren(slot, [lane.lane], createCard, (card) => drawCard(card, frame, lane));
}

/**
 * @param {HTMLElement} card made by createCard
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 */
function drawCard(card, frame, lane) {
  const waiting = frame.heat.status === "waiting";
  const place = waiting ? String(lane.lane) : placeText(frame, lane);
  const figure = waiting ? "" : figureText(lane);
  setAttr(card, "data-leads", leads(frame, lane));
  setAttr(card, "data-state", lookOf(frame, lane));
  setAttr(card, "data-waiting", waiting);
  setAttr(card, "data-done", isDone(lane));
  setText(part(card, "place"), place);
  setAttr(part(card, "place"), "hidden", place === "");
  setText(part(card, "figure"), figure);
  setAttr(part(card, "figure"), "data-long", figure.length > LONG_FIGURE);
  setText(part(card, "note"), waiting ? "" : noteText(frame, lane));
  drawWork(card, frame, lane);
  const about = aboutText(frame, lane);
  fitName(part(card, "name"), lane.name, lane.short); // last: it measures, and what is drawn after that would slide in
  fitName(part(card, "about"), about, about);
}

/**
 * @param {HTMLElement} card
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 */
function drawWork(card, frame, lane) {
  const rounds = roundsOnLine(frame.event, Object.values(frame.lanes));
  drawLine(part(card, "line"), layOut(frame.event, rounds), along(frame.event, lane, rounds), lookOf(frame, lane));
}

/**
 * What the figure says: reps while they are counted, otherwise the state in words.
 *
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @returns {string}
 */
function noteText(frame, lane) {
  if (STATES.includes(lane.status)) return say(`air.state.${lane.status}`);
  return formatOf(frame.event).air.note(lane);
}

/**
 * Where a lane is in the work; before the start and at the end, where the athlete comes from.
 *
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @returns {string}
 */
function aboutText(frame, lane) {
  const from = [lane.home, say("air.lane_home", { lane: lane.lane })].filter(Boolean).join(" · ");
  if (lane.status !== "working" || frame.heat.status !== "running") return from;
  const round = roundText(frame.event, lane);
  const counted = lane.credit === "unit" && lane.station_amount > 1 && formatOf(frame.event).marks;
  const movement = counted ? say("air.movement_into", { movement: lane.movement, done: lane.station_done, of: lane.station_amount }) : lane.movement;
  return round === lane.movement ? movement : `${round} · ${movement}`;
}

/**
 * Write facts side by side.
 *
 * @param {HTMLElement} strip
 * @param {readonly [string, string][]} facts label and value; without a value it is left out
 */
export function drawFacts(strip, facts) {
  const known = new Map(facts.filter(([, value]) => value !== ""));
  const makeFact = (/** @type {string} */ label) => make("fact", "", make("fact-label", "", label), make("fact-value", "value"));
  keyedChildren(strip, [...known.keys()], makeFact, (fact, label) => setText(part(fact, "value"), known.get(label) ?? ""));
}

/**
 * What the place is worth as it stands: points, and the place in the event over all its heats.
 *
 * @param {HeatFrame} frame
 * @param {LaneData} lane
 * @returns {[string, string][]}
 */
export function worthFacts(frame, lane) {
  if (frame.leader.lane === undefined || isOut(lane)) return [];
  const { in_event: event, points } = lane;
  const inHeat = Object.values(frame.lanes).filter((each) => each.division === lane.division).length;
  return [
    [say("air.in_heat"), say("air.place_of", { place: placeFigure(lane), of: inHeat })],
    [say("air.worth"), points === undefined ? "" : amountText(points, "points")],
    [say("air.in_event"), event ? say("air.place_of", { place: placeFigure(event), of: event.of }) : ""],
  ];
}
