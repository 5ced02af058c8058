/**
 * How a picture of results must be marked. The server says how official a result is; no view can say that by itself.
 * Pure.
 * @typedef {"live" | "provisional" | "official" | "amended"} Stage
 */

import { say } from "../shared/say.js";

/** Only a result that the head judge has signed is shown without the word unofficial. */
const MARKS = {
  live: say("air.unofficial"),
  provisional: say("air.provisional"),
  official: say("air.official"),
  amended: say("air.amended"),
};

/**
 * @param {{result?: {stage: Stage}}} frame without a stage the numbers are live
 * @returns {string}
 */
export function markText({ result }) {
  return MARKS[result?.stage ?? "live"] ?? MARKS.live;
}

/**
 * Whether the head judge has signed what the picture shows.
 *
 * @param {{result?: {stage: Stage}}} frame
 */
export function isSigned({ result }) {
  return result?.stage === "official" || result?.stage === "amended";
}
