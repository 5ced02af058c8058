/** Why a page may not do its work: the link it came with opens nothing. */

import { say } from "./say.js";

/**
 * @param {import("./types.js").WireError} error
 * @param {string} what the link should open, such as "this lane"
 * @returns {string | undefined} what is wrong and what to do, in words; undefined: the error is about something else
 */
export function barredBecause({ code }, what) {
  if (code === "link_ended") return say("shared.ended_link");
  return code === "not_allowed" ? say("shared.barred", { what }) : undefined;
}
