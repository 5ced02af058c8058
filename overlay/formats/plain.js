/**
 * Plain counting: reps of rounds and stations, one lane, one row of cumulative numbers. What a format does not say of
 * itself is said here. Pure.
 *
 * @typedef {import("./format.js").Format} Format
 * @typedef {import("./format.js").Moment} Moment
 * @typedef {import("./format.js").EventData} EventData
 * @typedef {import("./format.js").LaneData} LaneData
 */

import { amountText, clockText, repsBehindText } from "../shared/format.js";
import { say } from "../shared/say.js";
import { onLastStation, position, scored } from "../shared/plan.js";

/** For a station that a machine counts and that ends before its end. */
const STEPS = [1, 5, 10];

/** @type {Format} */
export const PLAIN = {
  title: say("plain.title"),
  remark: "",
  result: () => undefined,
  unit: "reps",
  marks: true,
  onePass: true,
  behind: (_, gap) => repsBehindText(gap),
  where: roundText,
  pad: {
    fields: [],
    take: () => undefined,
    worked: () => undefined,
    gains: () => [],
    done: (_, { done }) => done,
    since: () => undefined,
    where: ({ event, count }) => padRound(event, count.done),
    work: padWork,
    surface: padSurface,
    lock: () => undefined,
    open: () => false,
    complete: () => undefined,
    proof: (event, { done }) => String(scored(event, done)),
    press: () => undefined,
    noRep: () => ({ fact: "no_rep_called" }),
    noRepWord: say("plain.no_rep"),
    noRepLater: say("plain.no_rep_later"),
    choices: (_, surface) => (surface === "measure" ? STEPS.map((step) => `+${step}`) : []),
    choose: (_, choice) => ({ units: Number(choice) }),
    corrected: (from, to) =>
      from === to ? say("plain.changed_block") : say("plain.changed_count", { from, to }),
  },
  call: {
    end: say("plain.at_the_end"),
    meaning: () => undefined,
    ends: (_, { finish_ms: finish, reps }) => [[finish, clockText], [reps, repsText]],
    facts: () => [],
  },
  gaps: { meaning: () => undefined },
  air: {
    note: ({ result }) => (/^\d+( reps?)?$/.test(result) ? say("plain.reps_word") : say("plain.so_far")),
    apart: (_, gap) => amountText(gap, "reps"),
  },
  table: {
    into: (_, { leg, station_done }) => (leg.credit === "block" ? say("plain.block") : say("plain.into", { done: station_done, amount: amountText(leg.amount, leg.unit) })),
    own: () => undefined,
    since: (_, { reached_ms }, clockMs) => Math.max(0, clockMs - reached_ms),
    actions: {},
    without: [],
    atHand: ["correct", "finish"],
  },
  facts: {},
};

/**
 * A format from what is its own; the rest is plain counting's.
 *
 * @param {import("./format.js").Own} own
 * @returns {Format}
 */
export function makeFormat({ pad, call, gaps, air, table, ...whole }) {
  return {
    ...PLAIN,
    ...whole,
    pad: { ...PLAIN.pad, ...pad },
    call: { ...PLAIN.call, ...call },
    gaps: { ...PLAIN.gaps, ...gaps },
    air: { ...PLAIN.air, ...air },
    table: { ...PLAIN.table, ...table },
  };
}

/**
 * A field that only one format's frames have: the rules of its event, or what it counts of a lane.
 *
 * @param {object} data
 * @param {string} field
 * @returns {any} undefined: the frame does not have it
 */
export function ownField(data, field) {
  return /** @type {Record<string, unknown>} */ (data)[field];
}

/** @param {number} amount */
export function repsText(amount) {
  return say("shared.reps", { n: amount }).replace(" ", "\u00a0");
}

/**
 * @param {EventData} event
 * @param {Pick<LaneData, "round" | "movement">} [lane]
 */
function roundText(event, lane) {
  const round = lane?.round ?? 1;
  if (event.laps === undefined) return say("plain.round", { round });
  const rounds = event.laps * event.rounds_a_lap;
  return rounds > 1 ? say("plain.round_of", { round, rounds }) : (lane?.movement ?? event.legs[0].movement);
}

/**
 * @param {EventData} event
 * @param {number} done
 */
function padRound(event, done) {
  const { round } = position(event, done);
  return event.laps === undefined ? say("plain.pad_round", { round }) : say("plain.pad_round_of", { round, rounds: event.rounds_a_lap * event.laps });
}

/**
 * @param {Moment} moment
 * @param {number} [done] units of what is done now; the lane's unless the format says otherwise
 */
export function padWork({ event, count, division }, done = count.done) {
  const at = position(event, done);
  const amount = amountText(at.leg.amount, at.leg.unit);
  return {
    number: String(at.scored),
    station: at.leg.movement,
    load: at.leg.loads[division] ?? "",
    into: at.leg.credit === "block" ? say("plain.as_one", { amount }) : say("plain.into", { done: at.station_done, amount }),
    next: String(at.next_mark),
    nextWord: say("plain.next"),
    progress: at.station_done / at.leg.amount,
  };
}

/**
 * @param {Moment} moment
 * @param {number} [done] as in `padWork`
 */
export function padSurface({ event, count, finishCalled }, done = count.done) {
  const { leg } = position(event, done);
  const open = { noRep: true, finish: onLastStation(event, done) && !finishCalled };
  if (leg.credit === "block") return { ...open, surface: "block", ask: say("plain.hold_block") };
  // Metres, calories and seconds are read off a machine; nobody taps each.
  if (leg.unit !== "reps") return { ...open, surface: "measure", ask: say("plain.hold_station") };
  return { ...open, surface: "tap", ask: "" };
}
