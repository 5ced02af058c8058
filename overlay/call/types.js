/**
 * What the call adds to a heat, as docs/frames.md names it.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 *
 * @typedef {"exact" | "linear" | "at_last_mark" | "at_least"} Precision
 * @typedef {{lane: number, reps: number, work_ms: number, ms?: number, precision?: Precision}} Behind
 * @typedef {{median?: number, low_50?: number, high_50?: number, low_80?: number, high_80?: number, holds_80?: number, low_95?: number, high_95?: number}} Spread
 *
 * @typedef {object} Pace
 * @property {Record<string, number>} [rounds]
 * @property {Record<string, Record<string, number>>} [stations] by round and station
 * @property {Record<string, Record<string, number>>} [transitions]
 * @property {number} [rate]
 * @property {number} [transition_ms]
 * @property {number} [rests]
 * @property {number} [rest_ms]
 * @property {number} [unbroken]
 * @property {number} [unbroken_of]
 * @property {number} [fade]
 * @property {number} [fade_field]
 * @property {number} [no_rep_share]
 *
 * @typedef {object} Outlook
 * @property {Spread} [finish_ms]
 * @property {number} [inside_cap]
 * @property {Spread} [reps]
 * @property {Spread} points
 * @property {number[]} heat_places
 * @property {number[]} event_places
 * @property {number[]} [overall_places]
 *
 * @typedef {object} Stakes
 * @property {boolean} clinched
 * @property {boolean} alive
 * @property {number} best
 * @property {number} worst
 * @property {number[]} leading
 * @property {number[]} clinching
 * @property {"certain" | "possible" | "gone"} podium
 * @property {"certain" | "possible" | "gone"} [cut]
 * @property {number} [cut_to]
 * @property {{entry: string, short: string, by: number, lane?: number, tie_may_break?: boolean}[]} beat
 * @property {number} [scores] how many scores of the event are open, where it is more than one
 *
 * @typedef {object} CallExtras
 * @property {{scored: number, ends: "station" | "round" | "work", round: number, movement: string, to_it: number, to_round_end: number}} [mark]
 * @property {{movement: string, unit: string, amount: number, kg?: number}[]} [totals]
 * @property {Pace} [pace]
 * @property {Outlook} [outlook]
 * @property {Stakes} [stakes]
 * @property {{ms: number, precision: Precision}} [ghost]
 * @typedef {LaneData & CallExtras} CallLane
 *
 * @typedef {{key: string, kind: string, weight: number, at_ms: number, until_ms: number, lanes: number[], line: string}} CueData
 * @typedef {{lane: number, ahead: number, gap_ms: number, was_ms: number, catch_ms: number}} ChaseData
 * @typedef {{entry: string, short: string, name: string, lane?: number, place: number, shared: boolean, arrow: "up" | "down" | "level", total: number, gained?: number, before?: {place: number, shared: boolean, total: number}}} OverallRow
 *
 * @typedef {object} CallFrameExtras
 * @property {Record<string, CallLane>} lanes
 * @property {CueData[]} cues
 * @property {ChaseData[]} chases
 * @property {Record<string, {entry: string, name: string, short: string, heat: string, result: string}>} to_beat
 * @property {Record<string, number[]>} worth
 * @property {Record<string, {early: boolean, rows: OverallRow[], not_worked_out?: string, elsewhere?: boolean}>} overall
 * @typedef {HeatFrame & CallFrameExtras} CallFrame a heat frame with more in it
 */

export {};
