/**
 * What the home page says of links, and which it asks for. Pure.
 *
 * @typedef {object} LinkRow a link as the server lists it
 * @property {string} id
 * @property {string} title
 * @property {string} label
 * @property {number} expires_ms
 * @property {boolean} ended
 * @property {{sender: string | null, since_ms: number}[]} devices
 *
 * @typedef {object} Listed
 * @property {LinkRow[]} links
 * @property {number[]} lanes
 * @property {string[]} outputs
 * @property {string[]} addresses
 * @property {string | null} fingerprint
 *
 * @typedef {{role: string, lane?: number, label: string, days: number}} Wish
 */

import { clockText } from "../shared/format.js";

const CREW = ["table", "head", "desk"];
/** @type {[string, string][]} */
const OTHERS = [
  ["table", "Scoring table"],
  ["head", "Head judge"],
  ["desk", "Graphics desk"],
  ["commentator", "Commentator"],
  ["display", "Display"],
  ["machine", "Machine source"],
];

/**
 * What slips can be made for: the value of each choice and its name.
 *
 * @param {number[]} lanes
 * @returns {[string, string][]}
 */
export function choices(lanes) {
  const each = lanes.map((lane) => /** @type {[string, string]} */ ([`lane:${lane}`, `Lane pad ${lane}`]));
  const backups = lanes.map((lane) => /** @type {[string, string]} */ ([`backup:${lane}`, `Backup counter ${lane}`]));
  return [["all", "Everybody"], ["lanes", "Every lane"], ...each, ...OTHERS, ...backups];
}

/**
 * The links that a choice asks for.
 *
 * @param {string} choice
 * @param {number[]} lanes
 * @param {{label: string, days: number}} more
 * @returns {Wish[]}
 */
export function wishes(choice, lanes, more) {
  const pads = lanes.map((lane) => ({ role: "lane", lane, ...more }));
  if (choice === "all") return [...CREW.map((role) => ({ role, ...more })), ...pads];
  if (choice === "lanes") return pads;
  const [role, lane] = choice.split(":");
  return [lane === undefined ? { role, ...more } : { role, lane: Number(lane), ...more }];
}

/**
 * The state of a link, in words.
 *
 * @param {LinkRow} link
 * @param {number} nowMs Unix milliseconds
 * @returns {string}
 */
export function stateText({ ended, expires_ms, devices }, nowMs) {
  if (ended) return "ended";
  const connected = devices.map(({ since_ms }) => `connected for ${clockText(nowMs - since_ms)}`);
  return [`until ${dayTime(expires_ms)}`, ...(connected.length ? connected : ["nobody connected"])].join(" · ");
}

/**
 * A day and a time as the crew says it.
 *
 * @param {number} unixMs
 * @returns {string}
 */
export function dayTime(unixMs) {
  return new Date(unixMs).toLocaleString("en-GB", { weekday: "short", hour: "2-digit", minute: "2-digit" });
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
