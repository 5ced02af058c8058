/**
 * What the graphics desk remembers, and what can be read from it at an instant. Pure: see reducer.js for how it changes.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").ShowFrame} ShowFrame
 * @typedef {import("./automatic.js").Proposal} Proposal
 * @typedef {"off" | "propose" | "take"} Mode
 *
 * @typedef {object} Side what is kept for each output: what is in hand, its rules, and the heat as that output shows it
 * @property {Hand} hand
 * @property {Automatic} rules
 * @property {Delayed<HeatFrame>} line
 * @property {HeatFrame} [shown]
 * @property {Proposal[]} proposals
 * @property {readonly import("./edits.js").Edit[]} done changes of the rundown that this desk can take back
 * @property {{edit: import("./edits.js").Edit, kind: import("./edits.js").Kind, until: number} | undefined} editing the change
 *   that is on its way
 * @property {{automatic?: Mode, delay_ms?: number, until: number}} asked what the server was asked for just now: the next
 *   press of a key counts from there, not from an answer that is on its way
 *
 * @typedef {object} DeskState never changed in place: the reducer makes a new one
 * @property {string} tab the name of this window
 * @property {Sender} sender
 * @property {Keys} keys
 * @property {Digits} digits
 * @property {Readonly<Record<string, Side>>} sides by output
 * @property {ShowFrame} [show]
 * @property {Readonly<Record<string, HeatFrame>>} frames the heat on each floor, by the floor's name on the wire
 * @property {{heat: string, frame: import("../shared/types.js").SubjectsFrame}} [told] the subjects, of one floor
 * @property {import("../shared/types.js").SubjectsFrame} [subjects] of the floor of the output that is worked
 * @property {HeatFrame} [frame] the heat on that floor
 * @property {{heat: string, frame: import("../booth/types.js").BoothFrame}} [booth] what the booth is told, of one floor
 * @property {string} output
 * @property {{up: boolean, since: number}} link
 * @property {string} mode
 * @property {number} speed
 * @property {string} barred
 * @property {{text: string, until: number}} message
 * @property {"lane" | "place"} by what a number means
 * @property {boolean} battle the next number is the place of a battle
 * @property {string} heat of the next view; empty: the one on the floor
 * @property {boolean} ours this desk works the automatic mode
 * @property {Proposal[]} proposals
 * @property {string} changing the action that waits for its new key
 *
 * @typedef {object} Instant when an event happened, and what is drawn by lot for it
 * @property {number} nowMs the device's wall time
 * @property {number} serverMs the server's wall time as far as the page knows it
 * @property {boolean} known the server's clock is known
 * @property {number} tickMs a clock that never goes back
 * @property {string} id nobody else has; facts that the event makes are named by it
 */

import { heatClockMs } from "../shared/clock.js";
import { Delayed } from "../shared/delay.js";
import { FLOOR, floorName } from "../shared/floor.js";
import { Automatic } from "./automatic.js";
import { Keys } from "./keys.js";
import { Digits, Hand } from "./lines.js";
import { Sender } from "./sender.js";

/**
 * The desk as it opens.
 *
 * @param {object} options
 * @param {string} options.tab the name of this window
 * @param {string} options.sender a name of this page that is used by no other
 * @param {string} options.output to begin with; empty: the first
 * @param {import("../shared/queue.js").StoragePort} options.storage where the operator's keys are
 * @param {number} nowMs
 * @returns {DeskState}
 */
export function openDesk({ tab, sender, output, storage }, nowMs) {
  return {
    tab,
    sender: new Sender(sender, () => false),
    keys: new Keys(storage),
    digits: new Digits(),
    sides: {},
    show: undefined,
    frames: {},
    told: undefined,
    subjects: undefined,
    frame: undefined,
    booth: undefined,
    output,
    link: { up: false, since: nowMs },
    mode: "live",
    speed: 1,
    barred: "",
    message: { text: "", until: 0 },
    by: "lane",
    battle: false,
    heat: "",
    ours: false,
    proposals: [],
    changing: "",
  };
}

/** @returns {Side} */
function newSide() {
  return { hand: new Hand(), rules: new Automatic(), line: new Delayed(), proposals: [], done: [], editing: undefined, asked: { until: 0 } };
}

/**
 * What is kept for an output.
 *
 * @param {DeskState} state
 * @param {string} [name] the one that is worked if left out
 */
export function sideOf({ sides, output }, name = output) {
  return sides[name] ?? newSide();
}

/**
 * The same, to be changed without changing the one before.
 *
 * @param {Side} side
 * @returns {Side}
 */
export function copySide(side) {
  return { ...side, hand: side.hand.copy(), rules: side.rules.copy(), line: side.line.copy() };
}

/** @param {DeskState} state */
export function outputOf({ show, output }) {
  return show?.outputs[output];
}

/**
 * The floor of an output, by its name on the wire.
 *
 * @param {DeskState} state
 * @param {string} [name] of the output that is worked if left out
 */
export function floorAt({ show, output }, name = output) {
  return floorName(show?.outputs[name]?.floor);
}

/**
 * What the desk has to watch: the show, the heats on the floors of its outputs, and of the output that is worked who can
 * be shown and what is told of them.
 *
 * @param {DeskState} state
 * @returns {{view: string, heat: string}[]}
 */
export function watchesOf(state) {
  const floors = new Set(Object.keys(state.show?.outputs ?? {}).map((name) => floorAt(state, name)));
  const heats = [...(floors.size ? floors : [FLOOR])].map((heat) => ({ view: "heat", heat }));
  const own = ["subjects", "booth"].map((view) => ({ view, heat: floorAt(state) }));
  return [{ view: "show", heat: FLOOR }, ...own, ...heats];
}

/**
 * The heat clock on the floor; undefined before the start.
 *
 * @param {DeskState} state
 * @param {Pick<Instant, "serverMs">} instant
 */
export function clockMs({ frame, speed }, { serverMs }) {
  return frame && heatClockMs(frame.clock, frame.speed ?? speed, serverMs);
}

/**
 * What the output is set to, or was asked to be just now.
 *
 * @param {DeskState} state
 * @param {Pick<Instant, "nowMs">} instant
 * @returns {{automatic: Mode, delay_ms: number}}
 */
export function settingsOf(state, { nowMs }) {
  const { asked } = sideOf(state);
  const { automatic = "off", delay_ms = 0 } = outputOf(state) ?? {};
  const { until, ...wanted } = asked;
  return { automatic, delay_ms, ...(nowMs < until ? wanted : {}) };
}
