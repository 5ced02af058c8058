/**
 * The booth view, as docs/frames.md names it.
 *
 * @typedef {"open" | "pinned" | "dismissed"} Mark
 * @typedef {{item: string, text: string, mark: Mark}} Told something the competition file says
 *
 * @typedef {object} BoothLane a spotter's link is sent the first four alone
 * @property {number} lane
 * @property {string} entry
 * @property {string} name
 * @property {string} short
 * @property {string} [say]
 * @property {string} [ipa]
 * @property {string} [age_class]
 * @property {string} [caution]
 * @property {Told[]} [facts]
 *
 * @typedef {{item: string, text: string, spotter: string, at_ms: number, unix_ms: number, lane?: number, mark: Mark}} Note
 *
 * @typedef {object} BoothFrame
 * @property {"booth"} view
 * @property {"live" | "rehearsal"} mode
 * @property {number} [speed]
 * @property {{id: string, name: string}} heat
 * @property {import("../shared/types.js").ClockData} clock
 * @property {Record<string, BoothLane>} lanes
 * @property {Record<string, Note>} notes
 * @property {string[]} order newest first
 */

export {};
