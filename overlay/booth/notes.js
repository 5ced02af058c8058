/**
 * What the booth's pages say of notes and of what the competition file tells. Pure.
 *
 * @typedef {import("./types.js").BoothFrame} BoothFrame
 * @typedef {import("./types.js").BoothLane} BoothLane
 * @typedef {import("./types.js").Note} Note
 * @typedef {import("./types.js").Told} Told
 */

import { clockText, dayClockText, isolate } from "../shared/format.js";
import { say } from "../shared/say.js";

/** Letters of a note and of a spotter's name, as the server takes them. */
export const NOTE_MOST = 160;

/**
 * The notes to read, pinned ones first, each kind newest first.
 *
 * @param {BoothFrame} frame
 * @returns {Note[]}
 */
export function notesToRead(frame) {
  const notes = frame.order.map((id) => frame.notes[id]);
  return [...notes.filter(({ mark }) => mark === "pinned"), ...notes.filter(({ mark }) => mark === "open")];
}

/**
 * The notes that were dismissed, newest first.
 *
 * @param {BoothFrame} frame
 */
export function notesDismissed(frame) {
  return frame.order.map((id) => frame.notes[id]).filter(({ mark }) => mark === "dismissed");
}

/**
 * When a note was sent: by the heat clock, and before the start by the day's.
 *
 * @param {Note} note
 */
export function noteTime({ at_ms, unix_ms }) {
  return at_ms > 0 ? clockText(at_ms) : dayClockText(unix_ms);
}

/**
 * Whom a note is about and who sent it.
 *
 * @param {Note} note
 * @param {BoothFrame} frame
 */
export function noteSource({ lane, spotter }, frame) {
  const about = lane === undefined ? undefined : frame.lanes[lane];
  return [about ? say("booth.about", { lane: lane ?? "", name: isolate(about.short) }) : "", say("booth.from", { spotter: isolate(spotter) })].filter(Boolean).join(" · ");
}

/**
 * What the file says of an athlete, as label and text, without the facts and the caution.
 *
 * @param {BoothLane} lane
 * @returns {[string, string][]} those there are
 */
export function briefOf({ say: spoken, ipa, age_class }) {
  /** @type {[string, string][]} */
  const rows = [
    [say("booth.say"), [spoken, ipa && `/${ipa}/`].filter(Boolean).join(" ")],
    [say("booth.age_class"), age_class ?? ""],
  ];
  return rows.filter(([, text]) => text);
}

/**
 * What the file says beside a cue: how the names in it are said, the first fact of the first athlete that was not
 * dismissed, and what not to mention. Facts that were dismissed are left out, so that nothing is told twice.
 *
 * @param {{lanes: number[]}} cue
 * @param {BoothFrame} frame
 * @returns {{said: string, caution: string}}
 */
export function besideCue(cue, frame) {
  const lanes = cue.lanes.map((lane) => frame.lanes[lane]).filter((lane) => lane !== undefined).slice(0, 2);
  const said = lanes.filter((each) => each.say).map((each) => say("booth.spoken", { name: isolate(each.short), spoken: each.say ?? "" }));
  const fact = lanes.slice(0, 1).map(factToTell).filter((text) => text !== undefined);
  const cautions = lanes.filter(({ caution }) => caution).map(({ short, caution }) => say("booth.do_not_for", { name: isolate(short), caution: caution ?? "" }));
  return { said: [...said, ...fact].join(" · "), caution: cautions.join(" · ") };
}

/** @param {BoothLane} lane */
function factToTell({ facts = [] }) {
  return (facts.find(({ mark }) => mark === "pinned") ?? facts.find(({ mark }) => mark === "open"))?.text;
}
