/** Which program these pages are. The server gives its own text for this module; read from a folder there is none. */

export const PAGES = /** @type {string} */ ("");
