/**
 * Why a page may not do its work: the link it came with opens nothing.
 *
 * @param {import("./types.js").WireError} error
 * @param {string} what the link should open, such as "this lane"
 * @returns {string | undefined} what is wrong and what to do, in words; undefined: the error is about something else
 */
export function barredBecause({ code, message }, what) {
  if (code === "link_ended") return message.replace(/^found a/, "This is a");
  if (code === "not_allowed") return `This page has no valid key for ${what}. Ask the scoring table for the link`;
  return undefined;
}
