/**
 * What the cells of the commentator's page say. Pure.
 *
 * @typedef {import("./types.js").Behind} Behind
 * @typedef {import("./types.js").CallFrame} CallFrame
 * @typedef {import("./types.js").CallLane} CallLane
 * @typedef {import("./types.js").ChaseData} ChaseData
 * @typedef {import("./types.js").OverallRow} OverallRow
 */

import { clockText, isolate, ordinal, timeBehindText } from "../shared/format.js";
import { figureText, isDone, isLift, isOut, placeText, scoreBehindText } from "../shared/standing.js";

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
    finish: works ? finishText(lane) : "",
    cap: works ? percent(lane.outlook?.inside_cap) : "",
    "event-place": counts && lane.in_event ? placeOf(lane.in_event) : "",
    points: counts ? (lane.points ?? "") : "",
  };
}

/**
 * Seconds behind and how sure they are: +4.3 s; +4.3 s* at the last mark; ≥4.3 s this much and growing.
 *
 * @param {{ms?: number, precision?: string} | undefined} gap
 */
export function behindText(gap) {
  if (gap?.ms === undefined) return "";
  const text = timeBehindText(gap.ms);
  if (gap.precision === "at_last_mark") return `${text}*`;
  return gap.precision === "at_least" ? text.replace("+", "≥") : text;
}

/**
 * @param {CallFrame} frame
 * @param {CallLane} lane
 */
function meaningOf(frame, lane) {
  if (isLift(frame.event)) return `attempt ${lane.station_done + 1} of ${lane.station_amount}`;
  if (!lane.mark) return lane.movement.toLowerCase();
  const { ends, round, movement } = lane.mark;
  return ends === "work" ? "finish" : ends === "round" ? `end of round ${round}` : movement.toLowerCase();
}

/**
 * When it will be home: as likely earlier as later. For endless work the count at the end, for lifts the heaviest load.
 *
 * @param {CallLane} lane
 */
function finishText(lane) {
  const { finish_ms: finish, reps, load } = lane.outlook ?? {};
  if (load?.median !== undefined) return String(load.median / 1000);
  if (lane.reps_to_go === undefined) return reps?.median === undefined ? "" : `${reps.median} reps`;
  if (finish?.median !== undefined) return clockText(finish.median);
  return reps?.median === undefined ? "" : `${reps.median} reps`;
}

/**
 * A chance in per cent. Small and large ones are not called certain.
 *
 * @param {number | undefined} share
 */
export function percent(share) {
  return share === undefined ? "" : `${Math.round(share * 100)}\u00a0%`;
}

/** @param {{place: number, shared: boolean}} at */
export function placeOf({ place, shared }) {
  return shared ? `=${place}` : String(place);
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
  const where = ghost ? `: ${isolate(first.short)} ${ghost.ms < 0 ? "ahead of it" : "behind it"} by ${behindText({ ...ghost, ms: Math.abs(ghost.ms) }).replace("+", "")}` : "";
  return `${best.result} ${isolate(best.short)}${heatName ? `, ${heatName}` : ""}${where}`;
}

/**
 * @param {CallFrame} frame
 * @param {ChaseData} chase
 */
export function chaseText(frame, chase) {
  const [lane, ahead] = [frame.lanes[chase.lane], frame.lanes[chase.ahead]];
  if (!lane || !ahead) return "";
  return `${isolate(lane.short)} → ${isolate(ahead.short)}: ${timeBehindText(chase.gap_ms)}, level in ${clockText(chase.catch_ms)}`;
}

/**
 * One line of the overall standing as it stands: 1 ▲ Okwuedi 950 (+190).
 *
 * @param {OverallRow} row
 */
export function overallTexts(row) {
  return {
    place: String(row.place),
    arrow: ARROWS[row.arrow],
    name: isolate(row.short),
    total: String(row.total),
    gained: row.gained ? `+${row.gained}` : "",
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
  if (sure) return `${isolate(sure.short)} has it, whatever happens`;
  const chances = lanes.map((lane) => ({ name: isolate(lane.short), share: lane.outlook?.overall_places?.[0] ?? 0 }));
  const likely = chances.filter(({ share }) => share >= LEAST_CHANCE).sort((a, b) => b.share - a.share);
  return likely.slice(0, 3).map(({ name, share }) => `${name} ${percent(share)}`).join(" · ");
}

/** Why it is not said what is needed, by the code in the frame. */
const UNKNOWN = /** @type {Record<string, string>} */ ({
  several_scores: "this event has several scores that are open",
  rising_points: "a worse place may earn more",
  one_by_one: "a result may help one entry where it harms another",
});

/** @param {string} code */
export function unknownText(code) {
  return `What is needed: not worked out for this rule (${UNKNOWN[code] ?? code})`;
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
