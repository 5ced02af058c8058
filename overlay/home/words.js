/**
 * What the home page says of links, and which it asks for. Pure.
 *
 * @typedef {object} LinkRow a link as the server lists it
 * @property {string} id
 * @property {string} title in English
 * @property {string} role
 * @property {number | null} lane
 * @property {string} [floor]
 * @property {string} [floor_name]
 * @property {string} label
 * @property {boolean} [at_start] the server printed it at its start
 * @property {number} expires_ms
 * @property {boolean} ended
 * @property {{sender: string | null, since_ms: number}[]} devices
 *
 * @typedef {object} Listed
 * @property {LinkRow[]} links
 * @property {number[]} lanes
 * @property {{id: string, name: string, lanes: number[]}[]} [floors] only where there are several
 * @property {string[]} outputs
 * @property {string[]} addresses
 * @property {string | null} fingerprint
 *
 * @typedef {{lane: number, floor?: string, where: string}} Place a lane, on one of several floors; `where` names the floor
 * @typedef {{role: string, lane?: number, floor?: string, label: string, days: number}} Wish
 */

import { clockText } from "../shared/format.js";
import { language, say } from "../shared/say.js";

const CREW = ["table", "head", "desk"];
/** @type {[string, string][]} */
const OTHERS = [
  ["table", say("page.table")],
  ["head", say("home.head")],
  ["desk", say("page.desk")],
  ["commentator", say("home.commentator")],
  ["spotter", say("page.spotter")],
  ["display", say("home.display")],
  ["machine", say("home.machine")],
];

/** A link of these may be for one of several floors: its page opens there. A desk works every floor. */
const OF_A_FLOOR = OTHERS.filter(([role]) => role !== "desk");

/**
 * Every lane, floor by floor.
 *
 * @param {Pick<Listed, "lanes" | "floors">} listed
 * @returns {Place[]}
 */
function placesOf({ lanes, floors }) {
  if (!floors) return lanes.map((lane) => ({ lane, where: "" }));
  return floors.flatMap(({ id, name, lanes: own }) => own.map((lane) => ({ lane, floor: id, where: name })));
}

/**
 * What slips can be made for: the value of each choice and its name.
 *
 * @param {Pick<Listed, "lanes" | "floors">} listed
 * @returns {[string, string][]}
 */
export function choices(listed) {
  /** @type {(role: string, words: (lane: number) => string) => [string, string][]} */
  const each = (role, words) => placesOf(listed).map(({ lane, floor, where }) => [`${role}:${lane}${at(floor)}`, ofFloor(words(lane), where)]);
  const own = (listed.floors ?? []).flatMap(({ id, name }) => OF_A_FLOOR.map(([role, words]) => /** @type {[string, string]} */ ([`${role}${at(id)}`, ofFloor(words, name)])));
  return [["all", say("home.everybody")], ["lanes", say("home.every_lane")], ...each("lane", (lane) => say("home.lane_pad", { lane })), ...OTHERS, ...own, ...each("backup", (lane) => say("home.backup", { lane }))];
}

/**
 * What a link is labelled with: by whoever made it, or by the server that printed it at its start.
 *
 * @param {{label: string, at_start?: boolean}} link
 */
export function labelText({ label, at_start }) {
  return at_start ? say("home.printed_at_start") : label;
}

/**
 * What a link opens.
 *
 * @param {{title: string, role: string, lane: number | null, floor?: string}} opens the floor by its name
 */
export function titleText({ title, role, lane, floor = "" }) {
  if (role === "lane" && lane !== null) return ofFloor(say("home.lane_pad", { lane }), floor);
  if (role === "backup" && lane !== null) return ofFloor(say("home.backup", { lane }), floor);
  const words = OTHERS.find(([each]) => each === role)?.[1] ?? title;
  return ofFloor(lane === null ? words : say("home.of_lane", { page: words, lane }), floor);
}

/**
 * @param {string} page
 * @param {string} floor its name; empty: there is one
 */
function ofFloor(page, floor) {
  return floor ? say("home.of_floor", { page, floor }) : page;
}

/** @param {string | undefined} floor */
function at(floor) {
  return floor === undefined ? "" : `@${floor}`;
}

/**
 * The links that a choice asks for.
 *
 * @param {string} choice
 * @param {Pick<Listed, "lanes" | "floors">} listed
 * @param {{label: string, days: number}} more
 * @returns {Wish[]}
 */
export function wishes(choice, listed, more) {
  const pads = placesOf(listed).map(({ where: _, ...place }) => ({ role: "lane", ...place, ...more }));
  if (choice === "all") return [...CREW.map((role) => ({ role, ...more })), ...pads];
  if (choice === "lanes") return pads;
  const [what, floor] = choice.split("@");
  const [role, lane] = what.split(":");
  return [{ role, ...(lane !== undefined && { lane: Number(lane) }), ...(floor !== undefined && { floor }), ...more }];
}

/**
 * The state of a link, in words.
 *
 * @param {LinkRow} link
 * @param {number} nowMs Unix milliseconds
 * @returns {string}
 */
export function stateText({ ended, expires_ms, devices }, nowMs) {
  if (ended) return say("home.ended");
  const connected = devices.map(({ since_ms }) => say("home.connected_for", { time: clockText(nowMs - since_ms) }));
  return [say("home.until", { time: dayTime(expires_ms) }), ...(connected.length ? connected : [say("home.nobody")])].join(" · ");
}

/** The day and the month in the order of the crew: English as in Great Britain. */
const DATES = language.startsWith("en") ? "en-GB" : language;

/**
 * A day and a time as the crew says it.
 *
 * @param {number} unixMs
 * @returns {string}
 */
export function dayTime(unixMs) {
  return new Date(unixMs).toLocaleString(DATES, { weekday: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
}

/**
 * The links in order: first those that still open something, then the ended ones, each in the order they were made.
 *
 * @param {LinkRow[]} links
 * @returns {LinkRow[]}
 */
export function inOrder(links) {
  return [...links.filter(({ ended }) => !ended), ...links.filter(({ ended }) => ended)];
}
