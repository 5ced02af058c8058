/**
 * The formats that the pages know, by the name that a frame gives as `event.format`. A new format is a module beside this
 * one and two lines here.
 *
 * @typedef {import("./format.js").Format} Format
 */

import { AMRAP } from "./amrap.js";
import { FOR_TIME } from "./for_time.js";
import { FOR_TIME_WITH_PENALTY } from "./for_time_with_penalty.js";
import { INTERVALS } from "./intervals.js";
import { LADDER } from "./ladder.js";
import { MAX_LOAD } from "./max_load.js";
import { makeFormat } from "./plain.js";

/** @type {Map<string, Format>} */
export const FORMATS = new Map([
  ["for_time", FOR_TIME],
  ["for_time_with_penalty", FOR_TIME_WITH_PENALTY],
  ["amrap", AMRAP],
  ["max_load", MAX_LOAD],
  ["ladder", LADDER],
  ["intervals", INTERVALS],
]);

/** @type {Map<string, Format>} what stands for formats that a newer server knows and these pages do not */
const unknown = new Map();

/**
 * The format of an event. One that is not known here is counted plainly, and its remark says so.
 *
 * @param {{format: string}} event
 * @returns {Format}
 */
export function formatOf({ format: name }) {
  return FORMATS.get(name) ?? unknown.get(name) ?? makeUnknown(name);
}

/**
 * What a kind of fact is called that one format has of its own.
 *
 * @param {string} kind
 * @returns {import("./format.js").FactWords | undefined}
 */
export function factWords(kind) {
  return [...FORMATS.values()].find(({ facts }) => facts[kind])?.facts[kind];
}

/** @param {string} name */
function makeUnknown(name) {
  const title = name.replaceAll("_", " ");
  const made = makeFormat({ title, remark: `This page does not know the format ${title}: it counts plainly` });
  unknown.set(name, made);
  return made;
}
