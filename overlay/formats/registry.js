/**
 * The formats that the pages know, by the name that a frame gives as `event.format`. A new format is a module beside this
 * one and two lines here.
 *
 * @typedef {import("./format.js").Format} Format
 */

import { amountText, loadWords } from "../shared/format.js";
import { figures, say } from "../shared/say.js";
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

/** @type {Map<string, string>} */
const results = new Map();

/**
 * A result in the page's language: a count, a time, a load, or the words that stand in its place.
 *
 * @param {string} result as a frame has it: 45 reps, 11:42.318, CAP+4, 96 kg, WD
 * @returns {string}
 */
export function resultText(result) {
  const known = results.get(result);
  if (known !== undefined) return known;
  if (results.size > MOST_RESULTS) results.clear();
  const made = makeResult(result);
  results.set(result, made);
  return made;
}

/** More than a picture shows at once. */
const MOST_RESULTS = 1000;

/** @param {string} result */
function makeResult(result) {
  const own = [...FORMATS.values()].map((format) => format.result(result)).find(Boolean);
  if (own) return own;
  const [, reps] = /^(\d+) reps?$/.exec(result) ?? [];
  if (reps) return amountText(Number(reps), "reps");
  if (OUT.includes(result)) return say(`result.${result.toLowerCase()}`);
  const load = loadWords(result);
  return load === result ? figures(result) : load;
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

/** What stands in the place of a result where a lane is out of the heat. */
const OUT = ["WD", "DNS", "DSQ"];

/** @param {string} name */
function makeUnknown(name) {
  const title = name.replaceAll("_", " ");
  const made = makeFormat({ title, remark: say("shared.unknown_format", { format: title }) });
  unknown.set(name, made);
  return made;
}
