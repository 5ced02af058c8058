/**
 * What the cells of the call say. Pure.
 *
 * @typedef {import("./types.js").Behind} Behind
 * @typedef {import("./types.js").CallFrame} CallFrame
 * @typedef {import("./types.js").CallLane} CallLane
 * @typedef {import("./types.js").ChaseData} ChaseData
 * @typedef {import("./types.js").OverallRow} OverallRow
 */

import { behindText } from "../commentary/behind.js";
import { formatOf, resultText } from "../formats/registry.js";
import { clockText, isolate, placeFigure, timeBehindText } from "../shared/format.js";
import { figures, numberText, ordinal, say } from "../shared/say.js";
import { figureText, isDone, isOut, placeText, scoreBehindText } from "../shared/standing.js";

const ARROWS = { up: "▲", down: "▼", level: "·" };
/** Overall leads less likely than this are not worth a line. */
const LEAST_CHANCE = 0.03;

/**
 * Every cell of a lane's row, by the name of its part.
 *
 * @param {CallFrame} frame
 * @param {CallLane} lane
 * @returns {Record<string, string | number>}
 */
export function cellTexts(frame, lane) {
  const started = frame.heat.status !== "waiting";
  const counts = started && !isOut(lane);
  const works = counts && !isDone(lane);
  return {
    place: placeText(frame, lane),
    lane: lane.lane,
    figure: started ? figureText(lane) : "",
    "leader-reps": counts ? scoreBehindText(frame, lane, lane.behind?.leader?.reps ?? lane.gap_leader) : "",
    "leader-time": counts ? behindText(lane.behind?.leader) : "",
    "next-reps": counts ? scoreBehindText(frame, lane, lane.behind?.next?.reps ?? lane.gap_next) : "",
    "next-time": counts ? behindText(lane.behind?.next) : "",
    mark: works ? (lane.mark?.scored ?? "") : "",
    meaning: works ? meaningOf(frame, lane) : "",
    "to-mark": works ? (lane.mark?.to_it ?? "") : "",
    "to-go": works ? (lane.reps_to_go ?? "") : "",
    finish: works ? endText(frame, lane) : "",
    cap: works ? percent(lane.outlook?.inside_cap) : "",
    "event-place": counts && lane.in_event ? placeFigure(lane.in_event) : "",
    points: counts ? (lane.points ?? "") : "",
  };
}

/**
 * @param {CallFrame} frame
 * @param {CallLane} lane
 */
function meaningOf(frame, lane) {
  const own = formatOf(frame.event).call.meaning(frame.event, lane);
  if (own !== undefined) return own;
  if (!lane.mark) return lane.movement.toLowerCase();
  const { ends, round, movement } = lane.mark;
  return ends === "work" ? say("plain.finish") : ends === "round" ? say("shared.end_of_round", { round }) : movement.toLowerCase();
}

/**
 * What is forecast: a finish, or the score at the end.
 *
 * @param {CallFrame} frame
 */
export function endHead(frame) {
  return formatOf(frame.event).call.end;
}

/**
 * The median of the forecast: the finish time, the count at the end, the heaviest load, or the time that counts of
 * timed pieces.
 * @param {CallFrame} frame
 * @param {CallLane} lane
 */
function endText(frame, lane) {
  const end = forecastEnd(frame, lane);
  return end === undefined ? "" : end.write(end.median);
}

/**
 * Which forecast is shown for a format, and how its amounts are written: 11:42, 99 kg, 4 bars + 1, 168 reps. Where a
 * finish is not likely, it is the count at the cap.
 * @param {CallFrame} frame
 * @param {CallLane} lane
 * @returns {{median: number, low?: number, high?: number, holds?: number, write: (amount: number) => string} | undefined} holds
 *   is the share in the range where that is not four in five, because amounts come in steps
 */
export function forecastEnd({ event }, { outlook }) {
  const ends = formatOf(event).call.ends(event, outlook ?? {});
  const found = ends.find(([spread]) => spread?.median !== undefined);
  if (!found) return undefined;
  const [spread, write] = found;
  return { median: spread?.median ?? 0, low: spread?.low_80, high: spread?.high_80, holds: spread?.holds_80, write };
}

/**
 * A share in per cent. A chance of less than one or more than 99 in a hundred is only bounded: 0 and 100 % are proof.
 *
 * @param {number | undefined} share
 */
export function percent(share) {
  if (share !== undefined && share > 0 && share < 0.01) return figures("<1\u00a0%");
  if (share !== undefined && share > 0.99 && share < 1) return figures(">99\u00a0%");
  return share === undefined ? "" : figures(`${Math.round(share * 100)}\u00a0%`);
}

/**
 * The result of the other heats to beat, and how the leader here stands against it at the same point of the work.
 *
 * @param {CallFrame} frame
 * @param {string} division
 * @param {string} heatName
 */
export function toBeatText(frame, division, heatName) {
  const best = frame.to_beat[division];
  if (!best) return "";
  const first = frame.order.map((number) => frame.lanes[number]).find((lane) => lane.division === division && lane.ghost);
  const ghost = first?.ghost;
  const what = `${resultText(best.result)} ${isolate(best.short)}${heatName ? `, ${heatName}` : ""}`;
  if (!ghost) return what;
  const values = { what, name: isolate(first.short), gap: behindText({ ...ghost, ms: Math.abs(ghost.ms) }).replace("+", "") };
  return ghost.ms < 0 ? say("call.beat_ahead", values) : say("call.beat_behind", values);
}

/**
 * @param {CallFrame} frame
 * @param {ChaseData} chase
 */
export function chaseText(frame, chase) {
  const [lane, ahead] = [frame.lanes[chase.lane], frame.lanes[chase.ahead]];
  if (!lane || !ahead) return "";
  return say("call.chase", { name: isolate(lane.short), ahead: isolate(ahead.short), gap: timeBehindText(chase.gap_ms), time: clockText(chase.catch_ms) });
}

/**
 * One line of the overall standing as it stands: 1 ▲ Okwuedi 532 (+138).
 *
 * @param {OverallRow} row
 */
export function overallTexts(row) {
  return {
    place: placeFigure(row),
    arrow: ARROWS[row.arrow],
    name: isolate(row.short),
    total: numberText(row.total),
    gained: row.gained ? figures(`${row.gained < 0 ? "−" : "+"}${Math.abs(row.gained)}`) : "",
  };
}

/**
 * Who leads the division overall after this event, by the forecast and by what is certain.
 *
 * @param {CallFrame} frame
 * @param {string} division
 */
export function leadText(frame, division) {
  const lanes = Object.values(frame.lanes).filter((lane) => lane.division === division);
  const sure = lanes.find((lane) => lane.stakes?.clinched);
  if (sure) return say("call.has_it", { name: isolate(sure.short) });
  const chances = lanes.map((lane) => ({ name: isolate(lane.short), share: lane.outlook?.overall_places?.[0] ?? 0 }));
  const likely = chances.filter(({ share }) => share >= LEAST_CHANCE).sort((a, b) => b.share - a.share);
  return likely.slice(0, 3).map(({ name, share }) => `${name} ${percent(share)}`).join(" · ");
}

/** Why the page does not say what is needed, by the code in the frame. */
const UNKNOWN = /** @type {Record<string, string>} */ ({
  earlier_event: say("call.unknown.earlier_event"),
  several_scores: say("call.unknown.several_scores"),
  rising_points: say("call.unknown.rising_points"),
  one_by_one: say("call.unknown.one_by_one"),
  vacant_place: say("call.unknown.vacant_place"),
});

/** @param {string} code */
export function unknownText(code) {
  return say("call.not_worked_out", { why: UNKNOWN[code] ?? code });
}

/**
 * The likeliest places of a list of chances: 3rd 42 %, 4th 26 %.
 *
 * @param {number[]} shares best place first
 */
export function likelyPlaces(shares) {
  const found = shares.map((share, index) => ({ share, place: index + 1 })).filter(({ share }) => share >= LEAST_CHANCE);
  const best = found.sort((a, b) => b.share - a.share).slice(0, 3);
  return best.map(({ share, place }) => `${ordinal(place)} ${percent(share)}`).join(", ");
}
