/**
 * Changes of a rundown, as the desk sends them: from a line on, some lines are replaced by others. Pure.
 *
 * @typedef {import("../shared/types.js").Item} Item
 * @typedef {"add" | "up" | "down" | "remove" | "restore"} Kind
 * @typedef {{line: number, gone: Item[], added: Item[], hand?: number}} Edit `line` is counted from 0; `hand` is the line that is
 *   in hand afterwards
 *
 * @typedef {object} Asked
 * @property {readonly Item[]} rundown
 * @property {number | undefined} line in hand
 * @property {Item | undefined} item in preview
 * @property {readonly Edit[]} done what this desk did, to be taken back
 */

import { say } from "../shared/say.js";

const LINES_MOST = 500;

/**
 * The change that a key asks for, or why there is none.
 *
 * @param {Kind} kind
 * @param {Asked} asked
 * @returns {Edit | string}
 */
export function editOf(kind, asked) {
  if (kind === "add") return added(asked);
  if (kind === "restore") return restored(asked);
  const { rundown, line } = asked;
  if (line === undefined || !rundown[line]) return say("desk.no_line");
  if (kind === "remove") return { line, gone: [rundown[line]], added: [] };
  const first = kind === "up" ? line - 1 : line;
  const [one, other] = [rundown[first], rundown[first + 1]];
  if (!one || !other) return kind === "up" ? say("desk.is_first") : say("desk.is_last");
  return { line: first, gone: [one, other], added: [other, one], hand: kind === "up" ? first : first + 1 };
}

/** What is in preview goes below the line in hand, or to the end. @param {Asked} asked @returns {Edit | string} */
function added({ rundown, line, item }) {
  if (!item) return say("desk.no_preview");
  if (rundown.length >= LINES_MOST) return say("desk.most_lines", { lines: LINES_MOST });
  const at = line === undefined ? rundown.length : line + 1;
  return { line: at, gone: [], added: [item], hand: at };
}

/** @param {Asked} asked @returns {Edit | string} */
function restored({ rundown, done }) {
  const last = done.at(-1);
  if (!last) return say("desk.nothing_own");
  const there = rundown.slice(last.line, last.line + last.added.length);
  if (!same(there, last.added)) return say("desk.changed_since");
  return { line: last.line, gone: last.added, added: last.gone, ...(last.gone.length && { hand: last.line }) };
}

/**
 * The rundown after a change.
 *
 * @param {readonly Item[]} rundown
 * @param {Edit} edit
 * @returns {Item[]}
 */
export function editedBy(rundown, { line, gone, added: put }) {
  return [...rundown.slice(0, line), ...put, ...rundown.slice(line + gone.length)];
}

/**
 * What the server is told of a change.
 *
 * @param {Edit} edit
 * @returns {{line: number, gone: number, added: Record<string, string>[]}}
 */
export function editFields({ line, gone, added: put }) {
  return { line: line + 1, gone: gone.length, added: put.map(lineFields) };
}

/** @param {Item} item @returns {Record<string, string>} */
function lineFields({ view, params, name }) {
  return { view, .../** @type {Record<string, string>} */ (params), ...(name && { name }) };
}

/** @param {readonly Item[]} one @param {readonly Item[]} other */
export function same(one, other) {
  return JSON.stringify(one.map(lineFields)) === JSON.stringify(other.map(lineFields));
}

/**
 * Where a line is now that the rundown was changed: the nearest that says the same; undefined where none does.
 *
 * @param {readonly Item[]} before
 * @param {readonly Item[]} after
 * @param {number} line
 */
export function lineAfter(before, after, line) {
  const all = after.map((_, index) => index).filter((index) => same([after[index]], before.slice(line, line + 1)));
  return all.sort((one, other) => Math.abs(one - line) - Math.abs(other - line))[0];
}
