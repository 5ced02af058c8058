/**
 * Where the drawn athlete is at a moment. Every attempt goes down to the bottom and up; one that counts reaches the line,
 * at the very moment of the rep, and a no-rep turns back short of it. Pure.
 *
 * @typedef {import("./work.js").Step} Step
 * @typedef {"bar" | "body" | "climb" | "hop" | "travel"} Look a bar to lift, a body going down and up, a climb, hops, a way to go
 * @typedef {{look: Look, from_ms: number, at_ms: number, starts: number, peak: number, into: number, amount: number, unit: string, times: number}} Move
 *
 * @typedef {object} Pose
 * @property {Look} look
 * @property {number} height 0: the bottom, 1: the line
 * @property {number} share of the way, of stations that a machine counts; 0 to 1
 * @property {string} reading of that machine; empty: there is none
 */

import { amountText } from "../shared/format.js";
import { say } from "../shared/say.js";
import { isMeasured } from "./work.js";

/** So far a no-rep comes. */
export const SHORT = 0.62;
/** An attempt takes so long at most; whoever takes longer stood still before. */
const LONGEST_MS = { bar: 2600, body: 2200, climb: 9000, hop: 0, travel: 0 };
/** So quick a picture goes up and down at most: well under three times a second (WCAG 2.3.1). */
const QUICKEST_MS = 400;
/** The way down takes this part of an attempt. */
const DOWN = 0.45;
/** What was lifted or climbed is down again after so long. */
const REST_MS = 900;
/** From one station to the next, at most. */
const TRANSITION_MS = 3000;
/** A unit that takes longer than this, and needs no load, is a climb. */
const CLIMB_MS = 6000;

/**
 * @param {Step} step
 * @param {string} division
 * @returns {Look}
 */
function lookOf({ leg, load_milli }, division) {
  if (isMeasured(leg)) return "travel";
  if (leg.credit === "block") return "hop";
  if (load_milli !== undefined || leg.loads[division]) return "bar";
  return leg.expected_ms / leg.amount >= CLIMB_MS ? "climb" : "body";
}

/**
 * Plan the movements of a lane.
 *
 * @param {readonly Step[]} steps of what truly happens
 * @param {string} division
 * @returns {Move[]}
 */
export function movesOf(steps, division) {
  /** @type {Move[]} */
  const moves = [];
  const work = steps.filter(({ kind }) => kind === "rep" || kind === "no_rep");
  const lifts = steps.some(({ kind }) => kind === "load");
  work.forEach((step, index) => {
    const look = lifts ? "bar" : lookOf(step, division);
    const last = moves.at(-1);
    const before = last?.at_ms ?? 0;
    const began = work[index - 1]?.visit === step.visit ? before : before + Math.min(TRANSITION_MS, (step.at_ms - before) / 3);
    const longest = LONGEST_MS[look] || Infinity;
    const from_ms = Math.max(began, step.at_ms - longest);
    const { amount, unit } = step.leg;
    const starts = last?.look === look && from_ms === before ? last.peak : restOf(look);
    const times = look === "hop" ? Math.max(1, Math.min(amount, Math.floor((step.at_ms - from_ms) / QUICKEST_MS))) : 1;
    moves.push({ look, from_ms, at_ms: step.at_ms, starts, peak: step.kind === "rep" ? 1 : SHORT, into: step.into, amount, unit, times });
  });
  return moves;
}

/** @param {Look} look */
function restOf(look) {
  return look === "body" ? 1 : 0;
}

/**
 * @param {readonly Move[]} moves
 * @param {number} atMs heat clock
 * @param {boolean} [still] only the bottom, and where an attempt ends: for those who want no motion
 * @returns {Pose}
 */
export function poseAt(moves, atMs, still = false) {
  const index = moves.findIndex(({ at_ms }) => at_ms > atMs);
  const now = moves[index];
  const last = index < 0 ? moves.at(-1) : moves[index - 1];
  const shown = now && (!last || atMs >= now.from_ms || now.from_ms === last.at_ms) ? now : last;
  if (!shown) return { look: "body", height: 1, share: 0, reading: "" };
  const height = shown === now ? heightIn(now, (atMs - now.from_ms) / (now.at_ms - now.from_ms), still) : after(shown, atMs - shown.at_ms);
  return { look: shown.look, height, ...machineOf(shown, shown === now ? last : shown, atMs) };
}

/**
 * @param {Move} move
 * @param {number} part of its time, 0 to 1; before it: less
 * @param {boolean} still
 */
function heightIn({ look, starts, peak, times, from_ms, at_ms }, part, still) {
  if (look === "travel") return 0;
  if (at_ms - from_ms < QUICKEST_MS) return peak;
  if (part <= 0) return starts;
  if (times > 1) return Math.abs(Math.sin(Math.PI * part * times)) * (still ? 0 : 1);
  if (still) return part < 0.9 ? 0 : peak;
  return part < DOWN ? starts * (1 - part / DOWN) : (peak * (part - DOWN)) / (1 - DOWN);
}

/**
 * @param {Move} move
 * @param {number} sinceMs
 */
function after({ look, peak }, sinceMs) {
  if (look === "hop" || look === "travel") return 0;
  const rest = restOf(look);
  return peak + (rest - peak) * Math.min(1, Math.max(0, sinceMs - REST_MS / 3) / REST_MS);
}

/**
 * @param {Move} move
 * @param {Move | undefined} last
 * @param {number} atMs
 */
function machineOf(move, last, atMs) {
  if (move.look !== "travel") return { share: 0, reading: "" };
  const into = last?.look === "travel" && last.into <= move.into && last.amount === move.amount ? last.into : 0;
  const part = Math.min(1, Math.max(0, (atMs - move.from_ms) / (move.at_ms - move.from_ms || 1)));
  const done = move === last ? move.into : into + (move.into - into) * part;
  return { share: done / move.amount, reading: say("practice.of", { some: Math.floor(done), all: amountText(move.amount, move.unit) }) };
}
