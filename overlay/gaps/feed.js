/**
 * The running feed: plain lines of fact with their heat-clock times. Pure.
 *
 * Most lines are read from the newest frame alone (who was first through a round, who finished), so that a page that
 * was opened late has them too, and a line that a correction made untrue is gone. What a frame does not keep (a change
 * of the lead where no marks are raced to, a withdrawal) is noted when it is seen.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../shared/standing.js").Group} Group
 *
 * @typedef {object} Line
 * @property {string} key
 * @property {number} at_ms heat clock
 * @property {string} text
 * @property {"lead" | "round" | "finish" | "out" | "heat"} kind
 */

import { formatOf, resultText } from "../formats/registry.js";
import { amountText, isolate } from "../shared/format.js";
import { say } from "../shared/say.js";
import { groups, isDone, isOut } from "../shared/standing.js";

/**
 * Make a feed. It gives a function that takes every frame, with what the heat clock shows, and gives all lines, the
 * newest first.
 *
 * @returns {(frame: HeatFrame, clockMs: number) => Line[]}
 */
export function createFeed() {
  let heat = "";
  let jumps = /** @type {number | undefined} */ (undefined);
  let memory = emptyMemory();
  return (frame, clockMs) => {
    if (frame.heat.id !== heat || frame.jumps !== jumps || frame.clock.zero_unix_ms === undefined) memory = emptyMemory();
    [heat, jumps] = [frame.heat.id, frame.jumps];
    note(memory, frame, clockMs);
    const outs = [...memory.outs].filter(([lane]) => isOut(frame.lanes[lane] ?? { status: "" })).map(([, line]) => line);
    return [...readOff(frame), ...(told(frame) ?? memory.leads), ...outs].sort((a, b) => b.at_ms - a.at_ms || a.key.localeCompare(b.key));
  };
}

/**
 * The changes of the lead as the server read them from the facts, whenever this page was opened; none where the server
 * gives none.
 * @param {HeatFrame & {leads?: {lane: number, at_ms: number, scored_reps: number, first: boolean}[]}} frame
 * @returns {Line[] | undefined}
 */
function told(frame) {
  if (!frame.leads?.length) return undefined;
  const shown = groups(frame).flatMap((group) => group.lanes.map((lane) => ({ group, lane })));
  return frame.leads.flatMap(({ lane: number, at_ms, scored_reps: reps, first }) => {
    const found = shown.find(({ lane }) => lane.lane === number);
    if (!found) return [];
    const text = leadWords(first, called(frame, found.group, found.lane), amountText(reps, "reps"));
    return [/** @type {Line} */ ({ key: `lead ${number} ${at_ms}`, at_ms, text, kind: "lead" })];
  });
}

/**
 * @typedef {object} Memory
 * @property {Map<string, number | undefined>} leaders the lane alone in front, by division, as last seen
 * @property {Line[]} leads
 * @property {Map<number, Line>} outs by lane
 */

/** @returns {Memory} */
function emptyMemory() {
  return { leaders: new Map(), leads: [], outs: new Map() };
}

/**
 * @param {Memory} memory
 * @param {HeatFrame} frame
 * @param {number} clockMs
 */
function note(memory, frame, clockMs) {
  for (const group of groups(frame)) {
    noteLead(memory, frame, group);
    for (const lane of group.lanes) noteOut(memory, lane, clockMs);
  }
}

/**
 * Note a new leader once nobody shares the lead; the first look at a heat is not a change.
 *
 * @param {Memory} memory
 * @param {HeatFrame} frame
 * @param {Group} group
 */
function noteLead(memory, frame, group) {
  const lane = group.lanes[0];
  const alone = lane.done > 0 && !lane.shared && !isOut(lane);
  const known = memory.leaders.has(group.division);
  const before = memory.leaders.get(group.division);
  if (known && !alone) return;
  memory.leaders.set(group.division, alone ? lane.lane : undefined);
  if (!known || before === lane.lane || isDone(lane)) return;
  memory.leads.push({
    key: `lead ${memory.leads.length}`,
    at_ms: lane.reached_ms,
    text: leadWords(before === undefined, called(frame, group, lane), resultText(lane.result)),
    kind: "lead",
  });
}

/**
 * @param {Memory} memory
 * @param {LaneData} lane
 * @param {number} clockMs
 */
function noteOut(memory, lane, clockMs) {
  if (!isOut(lane)) memory.outs.delete(lane.lane);
  else if (!memory.outs.has(lane.lane)) {
    const words = { WD: say("gaps.withdraws"), DNS: say("gaps.did_not_start"), DSQ: say("gaps.disqualified") };
    const said = words[/** @type {"WD" | "DNS" | "DSQ"} */ (lane.result)] ?? lane.result;
    const text = say("gaps.out", { name: shortName(lane), what: said, reps: amountText(lane.scored_reps, "reps") });
    memory.outs.set(lane.lane, { key: `out ${lane.lane}`, at_ms: lane.withdrawn_ms ?? clockMs, text, kind: "out" });
  }
}

/**
 * @param {HeatFrame} frame
 * @returns {Line[]}
 */
function readOff(frame) {
  return groups(frame)
    .flatMap((group) => [...firstThrough(frame, group), ...finishes(frame, group)])
    .concat(heatLines(frame));
}

/**
 * @param {HeatFrame} frame
 * @param {Group} group
 * @returns {Line[]}
 */
function firstThrough(frame, group) {
  const { event } = frame;
  if (!formatOf(event).onePass) return [];
  const rounds = Math.max(0, ...group.lanes.map((lane) => lane.round));
  const last = event.laps === undefined ? rounds : event.laps * event.rounds_a_lap - 1;
  /** @type {Line[]} */
  const lines = [];
  for (let round = 1; round <= Math.min(rounds, last); round += 1) {
    const end = roundEnd(event, round);
    const passed = group.lanes.filter((lane) => lane.splits[end.mark] !== undefined);
    if (!passed.length) continue;
    const first = passed.reduce((a, b) => (b.splits[end.mark] < a.splits[end.mark] ? b : a));
    lines.push({
      key: `round ${round} ${group.division}`,
      at_ms: first.splits[end.mark],
      text: say("gaps.first_through", { name: called(frame, group, first), round, reps: end.scored }),
      kind: "round",
    });
  }
  return lines;
}

/**
 * The name of the mark at the end of a round, as in `splits`, and the cumulative number there.
 *
 * @param {HeatFrame["event"]} event
 * @param {number} round from 1, across laps
 */
export function roundEnd(event, round) {
  const lap = Math.floor((round - 1) / event.rounds_a_lap);
  const legs = event.legs.filter((leg) => leg.round === round - lap * event.rounds_a_lap);
  const last = legs[legs.length - 1];
  return { mark: `${round}.${last.station}`, scored: lap * event.lap_scored + last.scored_after };
}

/**
 * @param {HeatFrame} frame
 * @param {Group} group
 * @returns {Line[]}
 */
function finishes(frame, group) {
  return group.lanes.flatMap((lane) => {
    if (lane.status !== "finished") return [];
    const text = say("gaps.finishes", { name: called(frame, group, lane), result: resultText(lane.result) });
    // Not the time of the result, which penalties or rests between pieces set apart from the clock.
    return [/** @type {Line} */ ({ key: `finish ${lane.lane}`, at_ms: lane.reached_ms, text, kind: "finish" })];
  });
}

/**
 * @param {HeatFrame} frame
 * @returns {Line[]}
 */
function heatLines({ clock, heat }) {
  if (clock.zero_unix_ms === undefined) return [];
  /** @type {Line[]} */
  const lines = [{ key: "start", at_ms: 0, text: say("gaps.started"), kind: "heat" }];
  const ended = clock.ended_ms !== undefined && clock.ended_ms < clock.cap_ms ? clock.ended_ms : undefined;
  if (ended !== undefined) lines.push({ key: "end", at_ms: ended, text: say("gaps.ended"), kind: "heat" });
  else if (heat.status === "over") lines.push({ key: "end", at_ms: clock.cap_ms, text: say("gaps.time_cap"), kind: "heat" });
  return lines;
}

/**
 * @param {HeatFrame} frame
 * @param {Group} group
 * @param {LaneData} lane
 */
function called(frame, group, lane) {
  return Object.keys(frame.divisions).length > 1 ? `${shortName(lane)} (${group.name})` : shortName(lane);
}

/** @param {LaneData} lane */
function shortName(lane) {
  return isolate(lane.short || lane.name);
}

/**
 * @param {boolean} first nobody led before
 * @param {string} name
 * @param {string} result
 */
function leadWords(first, name, result) {
  return say(first ? "gaps.leads" : "gaps.takes_lead", { name, result });
}
