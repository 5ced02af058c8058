/** What the desk says of a rundown that is to be the file's. */

export const NOT_SAVED = "The rundown is not saved: there is no link to the server";

/** @param {string} file */
export function savedText(file) {
  return `The rundown is in ${file} now; the earlier file is kept beside it`;
}
