/**
 * A workout as a card reads it: one row for every station, with the numbers at its end round by round. Pure.
 *
 * @typedef {import("../shared/types.js").EventData} EventData
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").Leg} Leg
 *
 * @typedef {object} StationRow
 * @property {string} amount as read: 10, 21·15·9, 40 calories
 * @property {string} movement
 * @property {string} loads
 * @property {string[]} ends the cumulative number at its end, one for each column
 *
 * @typedef {object} Card
 * @property {string[]} heads what stands over the columns of numbers
 * @property {StationRow[]} rows
 */

import { formatOf } from "../formats/registry.js";
import { amountText, loadWords } from "../shared/format.js";
import { say } from "../shared/say.js";
import { roundsOnLine } from "../shared/workline.js";

/** More rounds than this do not fit side by side; then only the first and the last show their numbers. */
const MOST_COLUMNS = 6;

/**
 * How the workout is scored and how long it is.
 *
 * @param {EventData} event
 * @returns {string}
 */
export function formatText(event) {
  const format = formatOf(event).title;
  const rounds = event.laps === undefined ? 1 : event.laps * event.rounds_a_lap;
  return rounds > 1 ? say("air.rounds", { format, n: rounds }) : format;
}

/**
 * Rounds of the same movements share their rows and have a column each; rounds of their own follow each other.
 *
 * @param {HeatFrame} frame
 * @returns {Card}
 */
export function stationCard({ event, divisions }) {
  const rounds = byRound(event.legs);
  const alike = rounds.every((legs) => names(legs) === names(rounds[0]));
  const loads = (/** @type {Leg[]} */ legs) => loadsText(legs, divisions);
  if (!alike) {
    const rows = event.legs.map((leg) => ({ ...rowOf([leg]), loads: loads([leg]), ends: [String(leg.scored_after)] }));
    return { heads: [say("air.at")], rows };
  }
  const shown = columns(roundsOnLine(event, []));
  return {
    heads: shown.length === 1 ? [say("air.at")] : shown.map((round) => say("air.round_head", { round })),
    rows: rounds[0].map((leg, index) => {
      const same = rounds.map((legs) => legs[index]);
      return { ...rowOf(same), loads: loads(same), ends: shown.map((round) => String(endOf(event, rounds, round, index))) };
    }),
  };
}

/** @param {readonly Leg[]} legs */
function byRound(legs) {
  const numbers = [...new Set(legs.map((leg) => leg.round))];
  return numbers.map((round) => legs.filter((leg) => leg.round === round));
}

/** @param {readonly Leg[]} legs */
function names(legs) {
  return JSON.stringify(legs.map((leg) => [leg.movement, leg.unit]));
}

/** @param {number} rounds */
function columns(rounds) {
  const all = Array.from({ length: rounds }, (_, index) => index + 1);
  return rounds <= MOST_COLUMNS ? all : [1, 2, rounds];
}

/**
 * @param {EventData} event
 * @param {Leg[][]} rounds
 * @param {number} round
 * @param {number} index of the station
 */
function endOf(event, rounds, round, index) {
  const lap = Math.floor((round - 1) / event.rounds_a_lap);
  return lap * event.lap_scored + rounds[(round - 1) % event.rounds_a_lap][index].scored_after;
}

/** @param {readonly Leg[]} legs the same station of every round */
function rowOf(legs) {
  const { movement, unit } = legs[0];
  const amounts = legs.map((leg) => leg.amount);
  const same = new Set(amounts).size === 1;
  if (!same) return { movement, amount: amounts.slice(0, MOST_COLUMNS).join("·") };
  return { movement, amount: unit === "reps" ? String(amounts[0]) : amountText(amounts[0], unit) };
}

/**
 * The load of each division on the floor; only the number when they share it.
 *
 * @param {readonly Leg[]} legs
 * @param {HeatFrame["divisions"]} divisions
 */
function loadsText(legs, divisions) {
  const of = (/** @type {string} */ id) => [...new Set(legs.map((leg) => leg.loads[id]).filter(Boolean).map(loadWords))].join(", ");
  const loads = Object.keys(divisions).map((id) => ({ name: divisions[id].name, load: of(id) }));
  const known = loads.filter(({ load }) => load);
  if (known.length < 2 || new Set(known.map(({ load }) => load)).size === 1) return known[0]?.load ?? "";
  return known.map(({ name, load }) => `${name} ${load}`).join(" · ");
}
