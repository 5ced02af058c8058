/**
 * What the spotter's page says, and what it sends. Pure.
 *
 * @typedef {import("../booth/types.js").BoothFrame} BoothFrame
 * @typedef {import("../booth/types.js").Note} Note
 * @typedef {import("../shared/types.js").FactData & {text?: string, spotter?: string}} Waiting
 *
 * @typedef {object} Row a note on the page
 * @property {string} id
 * @property {string} text
 * @property {string} source when, about whom, from whom, and how it stands
 * @property {number} [lane]
 * @property {boolean} own it may be taken back here
 */

import { noteSource, noteTime } from "../booth/notes.js";
import { say } from "../shared/say.js";

const STANDS = { open: say("spotter.is_sent"), pinned: say("spotter.is_pinned"), dismissed: say("spotter.is_dismissed") };

/**
 * The notes of the heat, newest first: those that wait here for the server, and all that it has.
 *
 * @param {BoothFrame} frame
 * @param {{waiting: readonly Waiting[], own: (id: string) => boolean}} mine
 * @returns {Row[]}
 */
export function rowsOf(frame, { waiting, own }) {
  const [here, struck] = [waiting.filter(({ heat }) => heat === frame.heat.id), new Set(waiting.map(({ voids }) => voids))];
  const held = here.filter((fact) => fact.fact === "note_sent" && !frame.notes[fact.id]).reverse();
  const fresh = held.map((fact) => rowOf(asNote(fact), frame, { how: say("spotter.is_waiting"), own: true }));
  const known = frame.order.map((id) => rowOf(frame.notes[id], frame, { how: STANDS[frame.notes[id].mark], own: own(id) }));
  return [...fresh, ...known].filter(({ id }) => !struck.has(id));
}

/**
 * @param {Waiting} fact
 * @returns {Note}
 */
function asNote({ id, text = "", spotter = "", at_ms, unix_ms = 0, lane }) {
  return { item: id, text, spotter, at_ms, unix_ms, mark: "open", ...(lane !== undefined && { lane }) };
}

/**
 * @param {Note} note
 * @param {BoothFrame} frame
 * @param {{how: string, own: boolean}} more
 * @returns {Row}
 */
function rowOf(note, frame, { how, own }) {
  const source = [noteTime(note), noteSource(note, frame), how].join(" · ");
  return { id: note.item, text: note.text, source, own, ...(note.lane !== undefined && { lane: note.lane }) };
}

/**
 * A note as it is sent, in one line; undefined: there is nothing to send.
 *
 * @param {{text: string, spotter: string, lane: string}} typed
 */
export function noteOf({ text, spotter, lane }) {
  const [said, who] = [inOneLine(text), inOneLine(spotter)];
  if (!said || !who) return undefined;
  return { fact: "note_sent", text: said, spotter: who, ...(lane && { lane: Number(lane) }) };
}

/** @param {string} text control characters and line breaks, which a paste may bring, become spaces */
function inOneLine(text) {
  return text.replace(/[\p{Cc}\p{Cs}\p{Zl}\p{Zp}]+/gu, " ").trim();
}

/**
 * The link, in words.
 *
 * @param {{up: boolean, barred: string}} link
 * @param {{count: number, stay: string}} more how many facts wait, and what to know while there is no link
 */
export function linkText({ up, barred }, { count, stay }) {
  if (barred) return barred;
  if (up) return count ? say("spotter.sending") : say("spotter.linked");
  const waits = count ? say("spotter.no_link_waits", { n: count }) : say("spotter.no_link");
  return [waits, stay].filter(Boolean).join(", ");
}
