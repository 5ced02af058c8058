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
    if (!shown || !sameField(shown, newest) || (!sameStanding(shown, newest) && wait <= 0)) {
      shown = newest;
      changedAt = ports.now();
    } else if (!sameStanding(shown, newest) && !waiting) {
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

/**
 * Give the frame with its places and its order as they were in another frame of the same heat, and with the tables over
 * several heats, whose numbers make no sense with another order.
 *
 * @param {HeatFrame} frame
 * @param {HeatFrame} standing
 * @returns {HeatFrame}
 */
function withStanding(frame, standing) {
  if (frame === standing) return frame;
  const lanes = Object.entries(frame.lanes).map(([number, lane]) => {
    const { place, shared } = standing.lanes[number] ?? lane;
    return [number, { ...lane, place, shared }];
  });
  const { order, leader, ranking, standings } = standing;
  return { ...frame, order, leader, lanes: Object.fromEntries(lanes), ...(ranking && { ranking }), ...(standings && { standings }) };
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
