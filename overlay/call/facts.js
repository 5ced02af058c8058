/**
 * The facts about one athlete, as label and text. Pure.
 *
 * @typedef {import("./types.js").CallFrame} CallFrame
 * @typedef {import("./types.js").CallLane} CallLane
 * @typedef {import("./types.js").Stakes} Stakes
 */

import { amountText, clockText, isolate, ordinal } from "../shared/format.js";
import { isDone } from "../shared/standing.js";
import { behindText, likelyPlaces, percent, placeOf } from "./words.js";

/**
 * @param {CallFrame} frame
 * @param {CallLane} lane
 * @returns {[string, string][]} those there are
 */
export function factsOf(frame, lane) {
  /** @type {[string, string][]} */
  const facts = [
    ["Who", [lane.home, frame.divisions[lane.division]?.name].filter(Boolean).join(", ")],
    ["Rounds", roundsText(lane)],
    ["Pace now", paceText(lane)],
    ["Sets", setsText(lane)],
    ["Done", (lane.totals ?? []).map(totalText).join(", ")],
    ["Against the time to beat", lane.ghost ? ghostText(lane.ghost) : ""],
    ["Finish", isDone(lane) ? "" : finishText(lane)],
    ["Place in the heat", isDone(lane) ? "" : likelyPlaces(lane.outlook?.heat_places ?? [])],
    ["Place in the event", lane.in_event ? eventText(lane) : ""],
    ["Overall after it", overallText(lane)],
    ["To lead overall", lane.stakes ? leadText(lane.stakes) : ""],
    ["Must beat", lane.stakes ? beatText(lane.stakes) : ""],
  ];
  return facts.filter(([, text]) => text);
}

/** @param {CallLane} lane */
function roundsText(lane) {
  const times = Object.values(lane.pace?.rounds ?? {}).map(clockText).join(" · ");
  const { fade, fade_field: field } = lane.pace ?? {};
  if (!times || fade === undefined) return times;
  const over = field === undefined ? "" : `, field ${signed(fade / field - 1)}`;
  return `${times} (last ${signed(fade - 1)} on the first${over})`;
}

/** @param {number} share */
function signed(share) {
  const whole = Math.round(share * 100);
  return `${whole < 0 ? "−" : "+"}${Math.abs(whole)} %`;
}

/** @param {CallLane} lane */
function paceText(lane) {
  const { rate, transition_ms: turn } = lane.pace ?? {};
  const turnText = turn === undefined ? "" : `${(turn / 1000).toFixed(1)} s between stations`;
  return [rate === undefined ? "" : `${rate} ${lane.unit} a minute`, turnText].filter(Boolean).join(", ");
}

/** @param {CallLane} lane */
function setsText(lane) {
  const { unbroken, unbroken_of: of, rests, rest_ms: rest, no_rep_share: share } = lane.pace ?? {};
  return [
    of ? `${unbroken} of ${of} stations unbroken` : "",
    rests ? `${rests === 1 ? "1 rest" : `${rests} rests`}, ${Math.round((rest ?? 0) / 1000)} s in all` : "",
    lane.no_reps ? `${lane.no_reps === 1 ? "1 no-rep" : `${lane.no_reps} no-reps`} (${percent(share)} of attempts)` : "",
  ]
    .filter(Boolean)
    .join(", ");
}

/** @param {NonNullable<CallLane["totals"]>[number]} total */
function totalText({ movement, unit, amount, kg }) {
  const weight = kg === undefined ? "" : ` (${Math.round(kg)} kg)`;
  return `${unit === "reps" ? amount : amountText(amount, unit)} ${movement.toLowerCase()}${weight}`;
}

/** @param {NonNullable<CallLane["ghost"]>} ghost */
function ghostText(ghost) {
  const size = behindText({ ...ghost, ms: Math.abs(ghost.ms) }).replace("+", "");
  return ghost.ms < 0 ? `${size} ahead` : `${size} behind`;
}

/** @param {CallLane} lane */
function finishText({ outlook }) {
  const { finish_ms: finish, inside_cap: inside, load, reps } = outlook ?? {};
  if (load?.median !== undefined) return `about ${load.median / 1000}${rangeText(load, 1000)}`;
  if (finish?.median === undefined) return reps?.median === undefined ? "" : `about ${reps.median} reps${rangeText(reps, 1)}`;
  const late = finish.high_80 === undefined ? "never" : clockText(finish.high_80);
  const range = finish.low_80 === undefined ? "" : `, 4 in 5: ${clockText(finish.low_80)} to ${late}`;
  return `about ${clockText(finish.median)}${range}${inside === undefined ? "" : `; inside the cap ${percent(inside)}`}`;
}

/**
 * @param {import("./types.js").Spread} spread
 * @param {number} scale
 */
function rangeText({ low_80: low, high_80: high }, scale) {
  return low === undefined || high === undefined || low === high ? "" : `, 4 in 5: ${low / scale} to ${high / scale}`;
}

/** @param {CallLane} lane */
function eventText({ in_event: event, points, outlook, status }) {
  if (!event) return "";
  const now = `${placeOf(event)} of ${event.of} so far, ${points} points`;
  const likely = isDone({ status }) ? "" : likelyPlaces(outlook?.event_places ?? []);
  return likely ? `${now}; likely ${likely}` : now;
}

/** @param {CallLane} lane */
function overallText({ outlook, stakes }) {
  const likely = likelyPlaces(outlook?.overall_places ?? []);
  const ends = !stakes ? "" : stakes.best === stakes.worst ? `${ordinal(stakes.best)} for certain` : `${ordinal(stakes.best)} to ${ordinal(stakes.worst)} possible`;
  const cut = stakes?.cut_to === undefined ? "" : `cut to ${stakes.cut_to}: ${stakes.cut?.replaceAll("_", " ")}`;
  return [likely, ends, stakes ? `podium ${stakes.podium}` : "", cut].filter(Boolean).join("; ");
}

/** @param {Stakes} stakes */
function leadText(stakes) {
  if (stakes.clinched) return "has it, whatever happens";
  if (stakes.worst === 1) return "certain with any result";
  if (!stakes.alive) return "cannot lead any more";
  const sure = stakes.clinching.length ? `${upTo(stakes.clinching)} makes it certain` : "no place makes it certain";
  return `${sure}; possible with ${upTo(stakes.leading)}`;
}

/** @param {number[]} places rising */
function upTo(places) {
  const last = places[places.length - 1];
  return places[0] === last ? ordinal(last) : `${ordinal(last)} or better`;
}

/** @param {Stakes} stakes */
function beatText({ beat }) {
  return beat.map(({ short, by }) => `${isolate(short)} ${byText(by)}`).join(", ");
}

/** @param {number} by places */
function byText(by) {
  if (by > 0) return `by ${by === 1 ? "1 place" : `${by} places`}`;
  return `(may be ${-by === 1 ? "1 place" : `${-by} places`} behind)`;
}
