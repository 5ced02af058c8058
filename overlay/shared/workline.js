/**
 * The work drawn as a line: where rounds and stations end on it, and how far along it a lane is.
 *
 * A station is as long as the time it is expected to take, not as many reps as it is worth: a block with the sled counts
 * one and takes longer than ten lifts, so that on a line of reps it would be too short to see. The
 * cumulative numbers are written at the ends of the rounds; between them nothing is measured on the line.
 *
 * @typedef {import("./types.js").EventData} EventData
 * @typedef {import("./types.js").LaneData} LaneData
 * @typedef {import("./types.js").Leg} Leg
 *
 * @typedef {object} Knot the end of a round
 * @property {number} at 0 to 1 along the line
 * @property {number} round
 * @property {number} scored the cumulative number there
 *
 * @typedef {object} WorkLine
 * @property {number} rounds
 * @property {Knot[]} knots one for every round, the last at 1
 * @property {number[]} ticks ends of stations inside rounds, 0 to 1
 */

/** A line of repeating rounds starts with this many, so that the first round does not fill it. */
const FEWEST_ROUNDS = 3;

/**
 * How many rounds the line has: all of fixed work; of repeating work, up to the end of the round the furthest lane is in.
 *
 * @param {EventData} event
 * @param {readonly Pick<LaneData, "round">[]} lanes
 * @returns {number}
 */
export function roundsOnLine(event, lanes) {
  if (event.laps !== undefined) return event.laps * event.rounds_a_lap;
  return Math.max(FEWEST_ROUNDS, event.rounds_a_lap, ...lanes.map((lane) => lane.round));
}

/** @type {WeakMap<EventData, Map<number, WorkLine>>} an event that does not change is the same object in every frame */
const laidOut = new WeakMap();

/**
 * Lay out so many rounds of the work.
 *
 * @param {EventData} event
 * @param {number} rounds
 * @returns {WorkLine} the same one as long as the event is the same object
 */
export function layOut(event, rounds) {
  const lines = laidOut.get(event) ?? new Map();
  laidOut.set(event, lines);
  if (!lines.has(rounds)) lines.set(rounds, makeLine(event, rounds));
  return /** @type {WorkLine} */ (lines.get(rounds));
}

/**
 * @param {EventData} event
 * @param {number} rounds
 * @returns {WorkLine}
 */
function makeLine(event, rounds) {
  const whole = lengthBefore(event, rounds + 1, 1);
  /** @type {WorkLine} */
  const line = { rounds, knots: [], ticks: [] };
  for (let round = 1; round <= rounds; round += 1) {
    const legs = legsOf(event, round);
    for (const leg of legs.slice(0, -1)) line.ticks.push(lengthBefore(event, round, leg.station + 1) / whole);
    const last = legs[legs.length - 1];
    line.knots.push({ at: lengthBefore(event, round + 1, 1) / whole, round, scored: lapsBefore(event, round) * event.lap_scored + last.scored_after });
  }
  return line;
}

/**
 * How far along a line of so many rounds a lane is, 0 to 1.
 *
 * @param {EventData} event
 * @param {Pick<LaneData, "round" | "station" | "station_done" | "station_amount">} lane
 * @param {number} rounds
 * @returns {number}
 */
export function along(event, lane, rounds) {
  const leg = legsOf(event, lane.round).find((each) => each.station === lane.station);
  const into = lane.station_amount > 0 ? lane.station_done / lane.station_amount : 0;
  const length = lengthBefore(event, lane.round, lane.station) + (leg ? lengthOf(leg) * into : 0);
  return Math.min(1, Math.max(0, length / lengthBefore(event, rounds + 1, 1)));
}

/**
 * Choose which knots carry their number, so that numbers are at least `gap` apart, and as far as `from` from the
 * beginning of the line; the last always does.
 *
 * @param {readonly Knot[]} knots
 * @param {number} gap 0 to 1
 * @param {number} [from] 0 to 1
 * @returns {Knot[]}
 */
export function labelled(knots, gap, from = 0) {
  /** @type {Knot[]} */
  const kept = [];
  for (const knot of [...knots].reverse()) {
    if (!kept.length || (knot.at >= from && kept[kept.length - 1].at - knot.at >= gap)) kept.push(knot);
  }
  return kept.reverse();
}

/**
 * @param {EventData} event
 * @param {number} round from 1, across laps
 * @returns {Leg[]}
 */
function legsOf(event, round) {
  const inLap = ((round - 1) % event.rounds_a_lap) + 1;
  return event.legs.filter((leg) => leg.round === inLap);
}

/**
 * Length of the line before a station of a round.
 *
 * @param {EventData} event
 * @param {number} round
 * @param {number} station
 */
function lengthBefore(event, round, station) {
  const inLap = ((round - 1) % event.rounds_a_lap) + 1;
  const before = event.legs.filter((leg) => leg.round < inLap || (leg.round === inLap && leg.station < station));
  return lapsBefore(event, round) * total(event.legs) + total(before);
}

/**
 * @param {EventData} event
 * @param {number} round
 */
function lapsBefore(event, round) {
  return Math.floor((round - 1) / event.rounds_a_lap);
}

/** @param {readonly Leg[]} legs */
function total(legs) {
  return legs.reduce((sum, leg) => sum + lengthOf(leg), 0);
}

/** @param {Leg} leg */
function lengthOf(leg) {
  return Math.max(1, leg.expected_ms);
}
