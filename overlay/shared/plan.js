/**
 * The arithmetic of a workout, from a frame's `event`: the same as tallywire.core.workout.Plan, so that a pad without
 * a link shows the number the table will have. `done` counts units, scored reps are what the ranking counts.
 *
 * @typedef {import("./types.js").EventData} EventData
 * @typedef {import("./types.js").Leg} Leg
 *
 * @typedef {object} Position where a count stands; at the end of fixed work: the last station, complete
 * @property {Leg} leg
 * @property {number} round from 1, across laps
 * @property {number} station_done units done of the station
 * @property {number} scored
 * @property {number} next_mark the cumulative number at the end of the station
 * @property {number} round_mark the cumulative number at the end of the round
 */

/**
 * Keep `done` inside the work there is.
 *
 * @param {EventData} event
 * @param {number} done
 * @returns {number}
 */
export function clampDone(event, done) {
  return Math.min(Math.max(0, done), event.total_done ?? Infinity);
}

/**
 * @param {EventData} event
 * @param {number} done
 * @returns {boolean}
 */
export function isComplete(event, done) {
  return event.total_done !== undefined && done >= event.total_done;
}

/**
 * Tell where `done` units stand.
 *
 * @param {EventData} event
 * @param {number} done
 * @returns {Position}
 */
export function position(event, done) {
  const { lap, leg, into } = legAt(event, done);
  const base = lap * event.lap_scored;
  const ends = event.legs.filter((other) => other.round === leg.round).map((other) => other.scored_after);
  return {
    leg,
    round: lap * event.rounds_a_lap + leg.round,
    station_done: into,
    scored: base + leg.scored_after - worth(leg) + credited(leg, into),
    next_mark: base + leg.scored_after,
    round_mark: base + Math.max(...ends),
  };
}

/**
 * Scored reps that `done` units are worth.
 *
 * @param {EventData} event
 * @param {number} done
 * @returns {number}
 */
export function scored(event, done) {
  return position(event, done).scored;
}

/**
 * Units at the end of the block in progress, or undefined when the station is not a block.
 *
 * @param {EventData} event
 * @param {number} done
 * @returns {number | undefined}
 */
export function blockEnd(event, done) {
  const { lap, leg } = legAt(event, done);
  const end = lap * event.lap_done + leg.done_after;
  return leg.credit === "block" && done < end ? end : undefined;
}

/**
 * How many units are left of the station in progress.
 *
 * @param {EventData} event
 * @param {number} done
 */
export function unitsLeft(event, done) {
  const { leg, station_done } = position(event, done);
  return leg.amount - station_done;
}

/**
 * The last station of fixed work is in progress.
 *
 * @param {EventData} event
 * @param {number} done
 */
export function onLastStation(event, done) {
  const { total_done } = event;
  return total_done !== undefined && !isComplete(event, done) && done + unitsLeft(event, done) === total_done;
}

/**
 * @param {EventData} event
 * @param {number} done
 * @returns {{lap: number, leg: Leg, into: number}}
 */
function legAt(event, done) {
  const last = event.legs[event.legs.length - 1];
  const laps = Math.floor(done / event.lap_done);
  const lap = isComplete(event, done) ? (event.laps ?? 1) - 1 : laps;
  const within = done - lap * event.lap_done;
  const leg = event.legs.find((each) => within < each.done_after) ?? last;
  return { lap, leg, into: within - (leg.done_after - leg.amount) };
}

/** @param {Leg} leg */
function worth(leg) {
  return leg.credit === "block" ? 1 : leg.amount;
}

/**
 * @param {Leg} leg
 * @param {number} into
 */
function credited(leg, into) {
  if (leg.credit === "unit") return into;
  return into >= leg.amount ? 1 : 0;
}
