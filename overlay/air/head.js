/**
 * The head of a picture: the event and its heat, one thing worth saying, and the clock.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 */

import { part, setText } from "../shared/dom.js";
import { fitName } from "../shared/fit.js";
import { clockText } from "../shared/format.js";
import { make } from "../shared/make.js";
import { say } from "../shared/say.js";
import { heatTitle, limitText, roundText } from "../shared/standing.js";

/** @returns {HTMLElement} */
export function createHead() {
  return make(
    "head",
    "head",
    make("head-title", "", make("head-event name", "event"), make("head-label name", "heat")),
    make("head-round", "leader", make("head-value", "round"), make("head-label", "movement")),
    make("head-clock", "", make("head-time", "clock"), make("head-label", "cap")),
  );
}

/**
 * The head of a picture on which no clock runs.
 *
 * @returns {HTMLElement}
 */
export function createTitle() {
  return make(
    "head plain",
    "head",
    make("head-title", "", make("head-event name", "event"), make("head-label name", "heat")),
    make("head-round", "leader", make("head-value", "round"), make("head-label", "movement")),
  );
}

/**
 * @param {HTMLElement} head made by createHead or createTitle
 * @param {HeatFrame} frame
 * @param {[string, string]} [said] value and label beside it; what the heat is at unless told otherwise
 * @param {string} [under] what stands under the event; the heat unless told otherwise
 */
export function drawHead(head, frame, [value, label] = stateWords(frame), under = heatTitle(frame)) {
  setText(part(head, "round"), value);
  setText(part(head, "movement"), label);
  fitName(part(head, "event"), frame.event.name, frame.event.name);
  fitName(part(head, "heat"), under, under.startsWith(frame.heat.name) ? frame.heat.name : under);
}

/**
 * @param {HTMLElement} head
 * @param {number | undefined} clockMs
 * @param {HeatFrame} frame
 */
export function drawClock(head, clockMs, frame) {
  setText(part(head, "clock"), clockText(clockMs ?? 0));
  setText(part(head, "cap"), limitText(frame));
}

/**
 * Where the heat is: the round and movement of its leader, or why there is no leader.
 *
 * @param {HeatFrame} frame
 * @returns {[string, string]} value, label
 */
export function stateWords(frame) {
  const leader = frame.leader.lane === undefined ? undefined : frame.lanes[frame.leader.lane];
  if (frame.heat.status === "over") return [say("shared.heat_over"), say("air.await_judge")];
  if (frame.heat.status === "waiting") return [say("air.start_list"), say("air.waiting_start")];
  if (!leader) return [roundText(frame.event), say("air.under_way")];
  if (leader.status === "finished") return [say("air.leader_finished"), finishedText(frame)];
  return [roundText(frame.event, leader), say("air.leader_at", { movement: leader.movement })];
}

/**
 * @param {HeatFrame} frame
 * @returns {string}
 */
export function finishedText({ lanes }) {
  const all = Object.values(lanes);
  return say("air.finished_of", { n: all.filter((lane) => lane.status === "finished").length, of: all.length });
}
