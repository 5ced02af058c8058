/**
 * Keeping a picture calm. Counts are shown as they come, but who stands where changes at most once in a while: two
 * lanes that trade the lead rep by rep would make rows jump and a highlight flicker. With one change a second a
 * highlight can flash at most once in two seconds; WCAG 2.3.1 allows three in one.
 *
 * @typedef {import("./types.js").HeatFrame} HeatFrame
 *
 * @typedef {object} CalmPorts
 * @property {() => number} now
 * @property {(ms: number, act: () => void) => void} after
 */

/** How long a standing is left alone, at least. */
export const CALM_MS = 1000;

/**
 * Make the gate. It gives a function that takes every frame as it comes.
 *
 * @param {(frame: HeatFrame) => void} draw gets each frame, with the standing it may show
 * @param {CalmPorts} [ports]
 * @returns {(frame: HeatFrame) => void}
 */
export function createCalm(draw, ports = browserPorts()) {
  /** @type {HeatFrame | undefined} */
  let shown;
  /** @type {HeatFrame | undefined} */
  let newest;
  let changedAt = -Infinity;
  let waiting = false;

  const settle = () => {
    if (!newest) return;
    const wait = changedAt + CALM_MS - ports.now();
    if (shown && sameField(shown, newest) && sameStanding(shown, newest)) shown = newest;
    else if (!shown || !sameField(shown, newest) || wait <= 0) {
      shown = newest;
      changedAt = ports.now();
    } else if (!waiting) {
      waiting = true;
      ports.after(wait, () => {
        waiting = false;
        settle();
      });
    }
    draw(withStanding(newest, shown));
  };
  return (frame) => {
    newest = frame;
    settle();
  };
}

/** Everything that compares a lane with others or follows from the order; it is held back together and comes from one
 * instant. */
const AGAINST_OTHERS = ["place", "shared", "gap_leader", "gap_next", "behind", "ghost", "in_event", "points", "outlook", "stakes"];
const OF_THE_ORDER = ["order", "leader", "leads", "ranking", "standings", "overall", "chases"];

/**
 * Give the frame with everything that follows from the order (places, gaps, places in the event and points, and the
 * tables over several heats) as it was in another frame of the same heat. What each lane has done is new.
 * @param {HeatFrame} frame
 * @param {HeatFrame} standing
 * @returns {HeatFrame}
 */
function withStanding(frame, standing) {
  if (frame === standing) return frame;
  const lanes = Object.entries(frame.lanes).map(([number, lane]) => [number, taken(lane, standing.lanes[number] ?? lane, AGAINST_OTHERS)]);
  return { ...taken(frame, standing, OF_THE_ORDER), lanes: Object.fromEntries(lanes) };
}

/**
 * Give an object with these of its fields taken from another, those missing there left out.
 *
 * @template {object} T
 * @param {T} own
 * @param {T} other
 * @param {readonly string[]} fields
 * @returns {T}
 */
function taken(own, other, fields) {
  const kept = Object.entries(own).filter(([field]) => !fields.includes(field));
  return /** @type {T} */ (Object.fromEntries([...kept, ...Object.entries(other).filter(([field]) => fields.includes(field))]));
}

/**
 * The same heat with the same lanes in the same phase: anything else is a new picture and is not held back.
 *
 * @param {HeatFrame} a
 * @param {HeatFrame} b
 */
function sameField(a, b) {
  return field(a) === field(b);
}

/** @param {HeatFrame} frame */
function field({ heat, lanes, divisions }) {
  return JSON.stringify([heat.id, heat.status, Object.keys(lanes), Object.keys(divisions)]);
}

/**
 * @param {HeatFrame} a
 * @param {HeatFrame} b
 */
function sameStanding(a, b) {
  return standing(a) === standing(b);
}

/** @param {HeatFrame} frame */
function standing({ order, leader, lanes, ranking, standings }) {
  return JSON.stringify([order, leader, Object.values(lanes).map((lane) => [lane.place, lane.shared]), ranking, standings]);
}

/** @returns {CalmPorts} */
function browserPorts() {
  return { now: () => performance.now(), after: (ms, act) => void setTimeout(act, ms) };
}
