/** The key of the link by which a page was opened. */

/**
 * The key from the fragment (`#key=…`), which a browser never sends to a server.
 *
 * @param {{hash: string}} address the page's location
 * @returns {string | undefined}
 */
export function keyFrom(address) {
  return new URLSearchParams(address.hash.slice(1)).get("key") ?? undefined;
}
