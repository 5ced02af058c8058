/**
 * Why the server did not do something, in the page's language. It says so in English, and beside that gives what it said
 * as the key of a text with its values, wherever a person may meet it.
 *
 * @typedef {{key: string, values: Record<string, string>}} Reason
 */

import { say } from "./say.js";

/**
 * @param {{message: string, reason?: Reason | null}} told as the server sent it
 * @returns {string} what was said in English, where there are no other words for it
 */
export function refusalText({ message, reason }) {
  if (!reason) return message;
  const text = say(`said.${reason.key}`, reason.values);
  return text === `said.${reason.key}` ? message : text;
}
