/**
 * The first picture, asked for while the other modules are on their way: on a slow link that saves a round trip. The page
 * names this module first, so it runs before the one that draws.
 */

/** So long an answer may take. */
const PATIENCE_MS = 8000;

const floor = new URLSearchParams(location.search).get("floor");
/** The path of the newest list. */
export const newest = floor ? `/public/newest/${encodeURIComponent(floor)}` : "/public/newest";

/** @type {Map<string, Promise<any>>} */
const asked = new Map();

/**
 * Give what stands at a path of the feed, as JSON; the first time, what was asked for already.
 *
 * @param {string} path
 * @returns {Promise<any>} fails when nothing came
 */
export function get(path) {
  const found = asked.get(path) ?? load(path);
  asked.delete(path);
  return found;
}

/** @param {string} path */
async function load(path) {
  const answer = await fetch(path, { signal: AbortSignal.timeout(PATIENCE_MS) });
  if (!answer.ok) throw new Error(`found ${answer.status} at ${path}`);
  return answer.json();
}

/**
 * @param {string} path
 * @param {Promise<any>} found what stands there: whoever takes it hears why nothing came
 */
function keep(path, found) {
  asked.set(path, found);
  found.catch(() => undefined);
}

/** @param {{segment: string}} list handed on once its segment is asked for: who takes the list does not ask again */
function withSegment(list) {
  const path = `/public/segments/${list.segment}`;
  keep(path, load(path));
  return list;
}

keep(newest, load(newest).then(withSegment));
