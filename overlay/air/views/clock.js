/** The clock corner: the clock with its cap, the round the leader is in, and the leader's line of work along its edge. */

import { part, setAttr, setText } from "../../shared/dom.js";
import { createLine, drawLine } from "../../shared/drawline.js";
import { clockText } from "../../shared/format.js";
import { make } from "../../shared/make.js";
import { limitText, lookOf } from "../../shared/standing.js";
import { along, layOut, roundsOnLine } from "../../shared/workline.js";
import { stateWords } from "../head.js";

/** @type {import("../air.js").View} */
export const view = { watch: "heat", official: false, create };

/**
 * @param {HTMLElement} root
 * @returns {import("../air.js").Picture}
 */
function create(root) {
  const words = make("corner-words", "", make("head-value", "round"), make("head-label name", "movement"));
  const clock = make("corner-clock", "", make("head-time", "clock"), make("head-label", "cap"));
  root.append(make("panel corner", "panel", make("corner-row", "", words, clock), createLine()));
  return {
    draw(frame) {
      const [value, label] = stateWords(frame);
      setText(part(root, "round"), value);
      setText(part(root, "movement"), label);
      drawLeader(part(root, "line"), frame);
    },
    tick(clockMs, frame) {
      setText(part(root, "clock"), clockText(clockMs ?? 0));
      setText(part(root, "cap"), limitText(frame));
    },
  };
}

/**
 * @param {HTMLElement} line
 * @param {import("../../shared/types.js").HeatFrame} frame
 */
function drawLeader(line, frame) {
  const leader = frame.lanes[frame.leader.lane ?? frame.order[0]];
  setAttr(line, "hidden", !leader);
  if (!leader) return;
  const rounds = roundsOnLine(frame.event, Object.values(frame.lanes));
  drawLine(line, layOut(frame.event, rounds), along(frame.event, leader, rounds), lookOf(frame, leader));
}
