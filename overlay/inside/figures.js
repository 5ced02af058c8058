/**
 * The server's figures in words: what stands on the page for the person who runs it. Pure.
 *
 * @typedef {{count: number, half_ms?: number, most_ms?: number}} Share the times of the last minute
 * @typedef {object} Figures
 * @property {string} version
 * @property {string[]} wrong in English
 * @property {(import("../shared/refusal.js").Reason | null)[]} [wrong_reasons] the same, for every language
 * @property {string} competition
 * @property {string} mode
 * @property {number} up_s
 * @property {{state: string, lines: number, waiting: number}} journal
 * @property {number} clients
 * @property {Record<string, number>} watching
 * @property {number} slow
 * @property {number} let_go
 * @property {Record<string, number>} facts
 * @property {Record<string, number>} refused
 * @property {number} frames
 * @property {number} bytes
 * @property {Record<"answers" | "commits" | "counting" | "publishing" | "late", Share>} recent
 * @property {Record<string, number>} background_behind_s
 * @property {{where: "process" | "thread", state: string, ended: Record<string, number>}} helper
 * @property {number} [helper_memory]
 * @property {number} [epoch]
 * @property {number} [behind_ms]
 * @property {number} [disk_free]
 * @property {number} [memory]
 *
 * @typedef {[name: string, value: string][]} Rows
 */

import { language, numberText, say } from "../shared/say.js";

/** @param {number} number */
const round = (number) => Math.round(number * 10) / 10;
/** @param {number} seconds */
const secondsText = (seconds) => say("shared.second_unit", { time: numberText(round(seconds)) });
/** @param {number} number */
const whole = (number) => number.toLocaleString(language);
/** @param {number} bytes */
const bytesText = (bytes) => (bytes >= 1e9 ? say("inside.gigabytes", { amount: round(bytes / 1e9) }) : say("inside.megabytes", { amount: round(bytes / 1e6) }));
/** @param {Record<string, number>} counts */
const sum = (counts) => Object.values(counts).reduce((all, each) => all + each, 0);

/**
 * How long the server has run.
 *
 * @param {number} seconds
 */
function upText(seconds) {
  const [hours, minutes] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60];
  if (hours) return say("inside.hours", { hours, minutes });
  return minutes ? say("inside.minutes", { minutes }) : say("shared.second_unit", { time: seconds });
}

/** @param {Share} share */
function shareText({ half_ms: half, most_ms: most }) {
  return half === undefined || most === undefined ? say("inside.none") : say("inside.share", { half, most });
}

/**
 * Everything that is shown, in groups.
 *
 * @param {Figures} figures
 * @returns {Map<string, Rows>}
 */
export function groupsOf(figures) {
  const { journal, recent, watching } = figures;
  return new Map([
    [say("inside.facts"), [...factRows(figures), [say("inside.answer"), shareText(recent.answers)]]],
    [
      say("inside.journal"),
      [
        [say("inside.lines"), whole(journal.lines)],
        [say("inside.to_write"), whole(journal.waiting)],
        [say("inside.until_durable"), shareText(recent.commits)],
        .../** @type {Rows} */ (figures.epoch === undefined ? [] : [[say("inside.epoch"), whole(figures.epoch)]]),
        .../** @type {Rows} */ (figures.behind_ms === undefined ? [] : [[say("inside.behind_writer"), secondsText(figures.behind_ms / 1000)]]),
      ],
    ],
    [
      say("inside.pictures"),
      [
        [say("inside.connected"), whole(figures.clients)],
        .../** @type {Rows} */ (Object.entries(watching).map(([view, count]) => [say("inside.watch", { view: viewText(view) }), whole(count)])),
        [say("inside.slow"), whole(figures.slow)],
        [say("inside.let_go"), whole(figures.let_go)],
        [say("inside.frames_sent"), say("inside.frames_bytes", { frames: whole(figures.frames), bytes: bytesText(figures.bytes) })],
        [say("inside.making"), shareText(recent.publishing)],
        .../** @type {Rows} */ (Object.entries(figures.background_behind_s).map(([view, behind]) => [say("inside.behind_count", { view: viewText(view) }), secondsText(behind)])),
        ...helperRows(figures),
      ],
    ],
    [
      say("inside.machine"),
      [
        [say("inside.late"), shareText(recent.late)],
        .../** @type {Rows} */ (figures.memory === undefined ? [] : [[say("inside.memory"), bytesText(figures.memory)]]),
        .../** @type {Rows} */ (figures.disk_free === undefined ? [] : [[say("inside.disk_free"), bytesText(figures.disk_free)]]),
        [say("inside.running"), upText(figures.up_s)],
        [say("inside.program"), figures.version],
      ],
    ],
  ]);
}

/** @param {string} view */
function viewText(view) {
  return say(`inside.view.${view}`);
}

/**
 * Where call and standings are made, and how often that process was started anew.
 *
 * @param {Figures} figures
 * @returns {Rows}
 */
function helperRows({ helper: { where, state, ended }, helper_memory: memory }) {
  const how = { state: say(`inside.helper_state.${state}`) };
  const made = where === "process" ? say("inside.helper_process", how) : say("inside.helper_thread", how);
  return [
    [say("inside.helper"), made],
    .../** @type {Rows} */ (sum(ended) ? [[say("inside.anew"), whole(sum(ended))]] : []),
    .../** @type {Rows} */ (memory === undefined ? [] : [[say("inside.helper_memory"), bytesText(memory)]]),
  ];
}

/**
 * @param {Figures} figures
 * @returns {Rows}
 */
function factRows({ facts, refused }) {
  const most = Object.entries(facts).sort(([, one], [, other]) => other - one);
  return [
    [say("inside.taken"), whole(sum(facts))],
    .../** @type {Rows} */ (most.map(([kind, count]) => [say(`fact.${kind}`), whole(count)])),
    [say("inside.refused"), whole(sum(refused))],
    .../** @type {Rows} */ (Object.entries(refused).map(([code, count]) => [say(`code.${code}`), whole(count)])),
  ];
}
