/**
 * The facts about one athlete, as label and text. Pure.
 *
 * @typedef {import("./types.js").CallFrame} CallFrame
 * @typedef {import("./types.js").CallLane} CallLane
 * @typedef {import("./types.js").Stakes} Stakes
 */

import { behindText } from "../commentary/behind.js";
import { formatOf } from "../formats/registry.js";
import { amountText, clockText, isolate, loadWords, placeFigure, secondsText } from "../shared/format.js";
import { figures, ordinal, say } from "../shared/say.js";
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
    [say("facts.who"), [lane.home, frame.divisions[lane.division]?.name].filter(Boolean).join(", ")],
    [say("facts.behind"), isDone(lane) ? "" : gapsText(lane)],
    ...format.call.facts(lane),
    [say("facts.rounds"), roundsText(lane)],
    [say("facts.stations"), stationsText(frame, lane)],
    [say("facts.pace"), paceText(lane)],
    [say("facts.sets"), setsText(lane)],
    [say("facts.done"), (lane.totals ?? []).map(totalText).join(", ")],
    [say("facts.ghost"), lane.ghost ? ghostText(lane.ghost) : ""],
    [capitalised(format.call.end), isDone(lane) ? "" : endText(frame, lane)],
    [say("facts.heat_place"), isDone(lane) ? "" : likelyPlaces(lane.outlook?.heat_places ?? [])],
    [say("facts.event_place"), lane.in_event ? eventText(lane) : ""],
    [say("facts.overall"), overallText(lane)],
    [say("facts.lead"), lane.stakes ? leadText(lane.stakes) : ""],
    [say("facts.beat"), lane.stakes ? beatText(lane.stakes) : ""],
  ];
  return facts.filter(([, text]) => text);
}

/** @param {CallLane} lane */
function gapsText({ behind }) {
  const { leader, next } = behind ?? {};
  const same = leader?.lane === next?.lane;
  const rows = [leader ? say("facts.leader_gap", { gap: gapText(leader) }) : "", next && !same ? say("facts.next_gap", { gap: gapText(next) }) : ""];
  return rows.filter(Boolean).join(" · ");
}

/** @param {import("./types.js").Behind} gap in reps, seconds, and the work between them as it is expected to take */
function gapText(gap) {
  const reps = gap.reps ? amountText(gap.reps, "reps") : "";
  const work = gap.work_ms ? say("facts.of_work", { time: clockText(gap.work_ms) }) : "";
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
    const turn = turns[station] === undefined ? "" : `, ${say("facts.into_it", { time: secondsText(turns[station]) })}`;
    return `${movement.toLocaleLowerCase()}\u00a0${clockText(ms)}${turn}`;
  });
  return texts.length ? say("facts.round_times", { round, times: texts.join(" · ") }) : "";
}

/** @param {CallLane} lane */
function roundsText(lane) {
  const times = Object.values(lane.pace?.rounds ?? {}).map(clockText).join(" · ");
  const { fade, fade_field: field } = lane.pace ?? {};
  if (!times || fade === undefined) return times;
  const values = { times, fade: signed(fade - 1) };
  return field === undefined ? say("facts.fade", values) : say("facts.fade_field", { ...values, field: signed(fade / field - 1) });
}

/** @param {number} share */
function signed(share) {
  const whole = Math.round(share * 100);
  return figures(`${whole < 0 ? "−" : "+"}${Math.abs(whole)}\u00a0%`);
}

/** @param {CallLane} lane */
function paceText(lane) {
  const { rate, transition_ms: turn } = lane.pace ?? {};
  const turnText = turn === undefined ? "" : say("facts.between", { time: secondsText(turn) });
  return [rate === undefined ? "" : say("facts.a_minute", { amount: amountText(rate, lane.unit) }), turnText].filter(Boolean).join(", ");
}

/** @param {CallLane} lane */
function setsText(lane) {
  const { unbroken, unbroken_of: of, rests, rest_ms: rest, no_rep_share: share } = lane.pace ?? {};
  return [
    of ? say("facts.unbroken", { done: unbroken ?? 0, of }) : "",
    rests ? say("facts.rests", { n: rests, time: secondsText(rest ?? 0) }) : "",
    lane.no_reps ? say("facts.no_reps", { n: lane.no_reps, share: Math.round((share ?? 0) * 100) }) : "",
  ]
    .filter(Boolean)
    .join(", ");
}

/** @param {NonNullable<CallLane["totals"]>[number]} total */
function totalText({ movement, unit, amount, kg }) {
  const weight = kg === undefined ? "" : ` (${loadWords(`${Math.round(kg)} kg`)})`;
  return `${unit === "reps" ? amount : amountText(amount, unit)} ${movement.toLowerCase()}${weight}`;
}

/** @param {NonNullable<CallLane["ghost"]>} ghost */
function ghostText(ghost) {
  const size = behindText({ ...ghost, ms: Math.abs(ghost.ms) }).replace("+", "");
  return ghost.ms < 0 ? say("facts.ahead", { gap: size }) : say("facts.behind_by", { gap: size });
}

/**
 * @param {CallFrame} frame
 * @param {CallLane} lane
 */
function endText(frame, lane) {
  const end = forecastEnd(frame, lane);
  if (!end) return "";
  const { median, low, high, holds, write } = end;
  const share = holds === undefined ? say("facts.four_in_five") : percent(holds);
  const range = low === undefined || low === high ? "" : `, ${say("facts.range", { share, from: write(low), to: high === undefined ? say("facts.never") : write(high) })}`;
  const inside = lane.outlook?.inside_cap;
  return `${say("facts.about", { result: write(median) })}${range}${inside === undefined ? "" : `; ${say("facts.inside_cap", { share: percent(inside) })}`}`;
}

/** @param {CallLane} lane */
function eventText({ in_event: event, points, outlook, status }) {
  if (!event) return "";
  const now = say("facts.event_now", { place: placeFigure(event), of: event.of, points: amountText(points ?? 0, "points") });
  const likely = isDone({ status }) ? "" : likelyPlaces(outlook?.event_places ?? []);
  return likely ? `${now}; ${say("facts.likely", { places: likely })}` : now;
}

/** @param {CallLane} lane */
function overallText({ outlook, stakes }) {
  const likely = stakes && stakes.best === stakes.worst ? "" : likelyPlaces(outlook?.overall_places ?? []);
  const ends = !stakes ? "" : stakes.best === stakes.worst ? say("facts.place_sure", { place: ordinal(stakes.best) }) : say("facts.places_possible", { from: ordinal(stakes.best), to: ordinal(stakes.worst) });
  const cut = stakes?.cut_to === undefined ? "" : say("facts.cut", { size: stakes.cut_to, reach: say(`facts.reach.${stakes.cut}`) });
  return [likely, ends, stakes ? say("facts.podium", { reach: say(`facts.reach.${stakes.podium}`) }) : "", cut].filter(Boolean).join("; ");
}

/** @param {Stakes} stakes */
function leadText(stakes) {
  if (stakes.clinched) return say("facts.has_it");
  if (stakes.worst === 1) return say("facts.certain");
  if (!stakes.alive) return say("facts.cannot");
  const sure = stakes.clinching.length ? say("facts.makes_certain", { places: upTo(stakes.clinching) }) : say("facts.none_certain");
  const each = stakes.scores ? ` ${say("facts.each_score", { scores: stakes.scores })}` : "";
  return `${sure}; ${say("facts.possible_with", { places: upTo(stakes.leading) })}${each}`;
}

/** @param {number[]} places rising; where one between is left out, as a table that rises may do, they are listed */
function upTo(places) {
  const last = places[places.length - 1];
  if (last - places[0] >= places.length) return places.map(ordinal).reduce((one, other) => say("shared.or", { one, other }));
  return places[0] === last ? ordinal(last) : say("facts.or_better", { place: ordinal(last) });
}

/** @param {Stakes} stakes */
function beatText({ beat }) {
  const breaks = beat.some(({ tie_may_break: may }) => may) ? `; ${say("facts.tie_breaks")}` : "";
  return beat.map(({ short, by }) => `${isolate(short)} ${byText(by)}`).join(", ") + breaks;
}

/** @param {number} by places */
function byText(by) {
  return by > 0 ? say("air.by_places", { n: by }) : say("facts.may_be_behind", { n: -by });
}
