/** Which program these pages are. The server writes it in here; read from a folder there is none. */

export const PAGES = /** @type {string} */ ("");
