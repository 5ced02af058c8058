/**
 * Which screen the venue board shows. It turns by itself with the state of the heat: before the start it shows the
 * lanes, and the time to the start where that is known; while the heat runs, the lanes and the ranking in turn;
 * afterwards the result. Pure.
 * @typedef {"floor" | "ranking" | "countdown" | "result"} Screen
 */

const SCREENS = /** @type {const} */ (["floor", "ranking", "countdown", "result"]);
/** How long a screen stays by default, and at least: long enough to read ten names from the last row. */
export const STAY_S = 15;
export const LEAST_STAY_S = 5;
/** From this long before the start on, nothing else is shown. */
const LAST_MINUTE_MS = 60_000;

/**
 * @param {"waiting" | "running" | "over"} status
 * @param {number | undefined} toStartMs until the start, where it is known
 * @param {boolean} ranked whether anybody has done anything yet
 * @returns {Screen[]}
 */
export function screensFor(status, toStartMs, ranked) {
  if (status === "over") return ["result"];
  if (status === "running") return ranked ? ["floor", "ranking"] : ["floor"];
  if (toStartMs === undefined || toStartMs <= 0) return ["floor"];
  return toStartMs <= LAST_MINUTE_MS ? ["countdown"] : ["floor", "countdown"];
}

/**
 * Make the rotation: a function that says which screen is due. A change of the heat's state begins a new round.
 *
 * @param {{show?: string | null, seconds?: string | null}} asked `show` pins one screen
 * @param {() => number} [now] milliseconds
 * @returns {(status: "waiting" | "running" | "over", toStartMs: number | undefined, ranked: boolean) => Screen}
 */
export function createTurn({ show, seconds }, now = () => performance.now()) {
  const pinned = SCREENS.find((each) => each === show);
  const wanted = Number(seconds ?? STAY_S);
  const stayMs = Math.max(LEAST_STAY_S, Number.isFinite(wanted) ? wanted : STAY_S) * 1000;
  let [list, since] = ["", 0];
  return (status, toStartMs, ranked) => {
    if (pinned) return pinned;
    const screens = screensFor(status, toStartMs, ranked);
    if (screens.join() !== list) [list, since] = [screens.join(), now()];
    return screens[Math.floor((now() - since) / stayMs) % screens.length];
  };
}

/**
 * The time left to an announced start of today, `?start=14:05`.
 *
 * @param {string | null} text
 * @param {Date} now
 * @returns {number | undefined} milliseconds, negative when it is past
 */
export function toAnnouncedMs(text, now) {
  const match = /^([01]?\d|2[0-3]):([0-5]\d)$/.exec(text ?? "");
  if (!match) return undefined;
  const start = new Date(now);
  start.setHours(Number(match[1]), Number(match[2]), 0, 0);
  return start.getTime() - now.getTime();
}
