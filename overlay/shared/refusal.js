/**
 * Why the server did not do something, in the page's language. It says so in English, and beside that gives what it said
 * as the key of a text with its values, wherever a person may meet it.
 *
 * @typedef {{key: string, values: Record<string, string | number>}} Reason
 * @typedef {{message: string, reason?: Reason | null}} Told
 */

import { say } from "./say.js";

/**
 * @param {Told} told as the server sent it
 * @returns {string} what was said in English, where there are no other words for it
 */
export function refusalText({ message, reason }) {
  if (!reason) return message;
  const text = say(`said.${reason.key}`, reason.values);
  return text === `said.${reason.key}` ? message : text;
}

/**
 * What a view lacks, which frames have in English alone: its words are its key, without the number of the lane.
 *
 * @param {string} message
 */
export function lackText(message) {
  const [lane] = /\d+/.exec(message) ?? [];
  return refusalText({ message, reason: { key: message.replace(/\d+ /, "").replaceAll(" ", "_"), values: lane ? { lane } : {} } });
}
