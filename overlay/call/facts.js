/**
 * The facts about one athlete, as label and text. Pure.
 *
 * @typedef {import("./types.js").CallFrame} CallFrame
 * @typedef {import("./types.js").CallLane} CallLane
 * @typedef {import("./types.js").Stakes} Stakes
 */

import { behindText } from "../commentary/behind.js";
import { formatOf } from "../formats/registry.js";
import { amountText, clockText, isolate, placeFigure, secondsText } from "../shared/format.js";
import { ordinal } from "../shared/say.js";
import { isDone } from "../shared/standing.js";
import { forecastEnd, likelyPlaces, percent } from "./words.js";

/**
 * @param {CallFrame} frame
 * @param {CallLane} lane
 * @returns {[string, string][]} those there are
 */
export function factsOf(frame, lane) {
  const format = formatOf(frame.event);
  /** @type {[string, string][]} */
  const facts = [
    ["Who", [lane.home, frame.divisions[lane.division]?.name].filter(Boolean).join(", ")],
    ["Behind", isDone(lane) ? "" : gapsText(lane)],
    ...format.call.facts(lane),
    ["Rounds", roundsText(lane)],
    ["Last stations", stationsText(frame, lane)],
    ["Pace now", paceText(lane)],
    ["Sets", setsText(lane)],
    ["Done", (lane.totals ?? []).map(totalText).join(", ")],
    ["Against the time to beat", lane.ghost ? ghostText(lane.ghost) : ""],
    [capitalised(format.call.end), isDone(lane) ? "" : endText(frame, lane)],
    ["Place in the heat", isDone(lane) ? "" : likelyPlaces(lane.outlook?.heat_places ?? [])],
    ["Place in the event", lane.in_event ? eventText(lane) : ""],
    ["Overall after it", overallText(lane)],
    ["To lead overall", lane.stakes ? leadText(lane.stakes) : ""],
    ["Must beat", lane.stakes ? beatText(lane.stakes) : ""],
  ];
  return facts.filter(([, text]) => text);
}

/** @param {CallLane} lane */
function gapsText({ behind }) {
  const { leader, next } = behind ?? {};
  const same = leader?.lane === next?.lane;
  const rows = [leader ? `leader ${gapText(leader)}` : "", next && !same ? `next place ${gapText(next)}` : ""];
  return rows.filter(Boolean).join(" · ");
}

/** @param {import("./types.js").Behind} gap in reps, seconds, and the work between them as it is expected to take */
function gapText(gap) {
  const reps = gap.reps ? `${gap.reps}\u00a0${gap.reps === 1 ? "rep" : "reps"}` : "";
  const work = gap.work_ms ? `${clockText(gap.work_ms)} of work` : "";
  return [reps, behindText(gap), work].filter(Boolean).join(", ");
}

/** @param {string} text */
function capitalised(text) {
  return text[0].toUpperCase() + text.slice(1);
}

/**
 * The stations of the last round that has some complete, with the transition into each where it is known.
 *
 * @param {CallFrame} frame
 * @param {CallLane} lane
 */
function stationsText({ event }, { pace }) {
  const rounds = Object.keys(pace?.stations ?? {});
  const round = rounds.at(-1) ?? "";
  const lap = ((Number(round) - 1) % event.rounds_a_lap) + 1;
  const turns = pace?.transitions?.[round] ?? {};
  const texts = Object.entries(pace?.stations?.[round] ?? {}).map(([station, ms]) => {
    const movement = event.legs.find((leg) => leg.round === lap && leg.station === Number(station))?.movement ?? "";
    const turn = turns[station] === undefined ? "" : `, ${secondsText(turns[station])} into it`;
    return `${movement.toLowerCase()}\u00a0${clockText(ms)}${turn}`;
  });
  return texts.length ? `round ${round}: ${texts.join(" · ")}` : "";
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
  return `${whole < 0 ? "−" : "+"}${Math.abs(whole)}\u00a0%`;
}

/** @param {CallLane} lane */
function paceText(lane) {
  const { rate, transition_ms: turn } = lane.pace ?? {};
  const turnText = turn === undefined ? "" : `${secondsText(turn)} between stations`;
  return [rate === undefined ? "" : `${rate} ${lane.unit} a minute`, turnText].filter(Boolean).join(", ");
}

/** @param {CallLane} lane */
function setsText(lane) {
  const { unbroken, unbroken_of: of, rests, rest_ms: rest, no_rep_share: share } = lane.pace ?? {};
  return [
    of ? `${unbroken} of ${of} stations unbroken` : "",
    rests ? `${rests === 1 ? "1 rest" : `${rests} rests`}, ${secondsText(rest ?? 0)} in all` : "",
    lane.no_reps ? `${lane.no_reps === 1 ? "1 no-rep" : `${lane.no_reps} no-reps`} (${Math.round((share ?? 0) * 100)}\u00a0% of attempts)` : "",
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

/**
 * @param {CallFrame} frame
 * @param {CallLane} lane
 */
function endText(frame, lane) {
  const end = forecastEnd(frame, lane);
  if (!end) return "";
  const { median, low, high, holds, write } = end;
  const share = holds === undefined ? "4 in 5" : percent(holds);
  const range = low === undefined || low === high ? "" : `, ${share}: ${write(low)} to ${high === undefined ? "never" : write(high)}`;
  const inside = lane.outlook?.inside_cap;
  return `about ${write(median)}${range}${inside === undefined ? "" : `; inside the cap ${percent(inside)}`}`;
}

/** @param {CallLane} lane */
function eventText({ in_event: event, points, outlook, status }) {
  if (!event) return "";
  const now = `${placeFigure(event)} of ${event.of} so far, ${points} points`;
  const likely = isDone({ status }) ? "" : likelyPlaces(outlook?.event_places ?? []);
  return likely ? `${now}; likely ${likely}` : now;
}

/** @param {CallLane} lane */
function overallText({ outlook, stakes }) {
  const likely = stakes && stakes.best === stakes.worst ? "" : likelyPlaces(outlook?.overall_places ?? []);
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
  const each = stakes.scores ? ` (in each of the ${stakes.scores} scores that are open)` : "";
  return `${sure}; possible with ${upTo(stakes.leading)}${each}`;
}

/** @param {number[]} places rising; where one between is left out, as a table that rises may do, they are listed */
function upTo(places) {
  const last = places[places.length - 1];
  if (last - places[0] >= places.length) return places.map(ordinal).join(" or ");
  return places[0] === last ? ordinal(last) : `${ordinal(last)} or better`;
}

/** @param {Stakes} stakes */
function beatText({ beat }) {
  const breaks = beat.some(({ tie_may_break: may }) => may) ? "; a new tie may break this" : "";
  return beat.map(({ short, by }) => `${isolate(short)} ${byText(by)}`).join(", ") + breaks;
}

/** @param {number} by places */
function byText(by) {
  if (by > 0) return `by ${by === 1 ? "1 place" : `${by} places`}`;
  return `(may be ${-by === 1 ? "1 place" : `${-by} places`} behind)`;
}
