/** What the desk says of a rundown that is to be the file's. */

import { say } from "../shared/say.js";

export const NOT_SAVED = say("desk.not_saved");

/** @param {string} file */
export function savedText(file) {
  return say("desk.saved", { file });
}
