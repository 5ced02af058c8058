/**
 * Ask the server over HTTP, with the key of the page's link.
 *
 * @param {string} path
 * @param {string | undefined} key empty: as somebody without a link
 * @param {object} [body] sent as JSON; missing: only asked for
 * @returns {Promise<{ok: boolean, status: number, nowMs: number, data: any} | undefined>} undefined: no answer;
 *   `nowMs` is the server's wall time, in whole seconds (RFC 9110 §6.6.1)
 */
export async function asked(path, key, body) {
  const headers = { ...(key && { Authorization: `Bearer ${key}` }), ...(body && { "Content-Type": "application/json" }) };
  try {
    const answer = await fetch(path, { method: body ? "POST" : "GET", headers, ...(body && { body: JSON.stringify(body) }), cache: "no-store" });
    const nowMs = Date.parse(answer.headers.get("date") ?? "") || Date.now();
    return { ok: answer.ok, status: answer.status, nowMs, data: await answer.json() };
  } catch {
    return undefined;
  }
}
