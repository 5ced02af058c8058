/**
 * The server's figures in words: what stands on the page for the person who runs it. Pure.
 *
 * @typedef {{count: number, half_ms?: number, most_ms?: number}} Share the times of the last minute
 * @typedef {object} Figures
 * @property {string} version
 * @property {string[]} wrong
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

/** @param {number} number */
const whole = (number) => number.toLocaleString("en-GB");
/** @param {number} bytes */
const bytesText = (bytes) => (bytes >= 1e9 ? `${(bytes / 1e9).toFixed(1)} GB` : `${(bytes / 1e6).toFixed(1)} MB`);
/** @param {Record<string, number>} counts */
const sum = (counts) => Object.values(counts).reduce((all, each) => all + each, 0);

/**
 * How long the server has run.
 *
 * @param {number} seconds
 */
function upText(seconds) {
  const [hours, minutes] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60];
  return hours ? `${hours} h ${minutes} min` : minutes ? `${minutes} min` : `${seconds} s`;
}

/** @param {Share} share */
function shareText({ half_ms: half, most_ms: most }) {
  return half === undefined || most === undefined ? "none" : `${half} ms, 1 in 100: ${most} ms`;
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
    ["Facts", [...factRows(figures), ["Answer, from the message", shareText(recent.answers)]]],
    [
      "Journal",
      [
        ["Lines", whole(journal.lines)],
        ["Waiting to be written", whole(journal.waiting)],
        ["Until durable", shareText(recent.commits)],
        .../** @type {Rows} */ (figures.epoch === undefined ? [] : [["Epoch of the writer", whole(figures.epoch)]]),
        .../** @type {Rows} */ (figures.behind_ms === undefined ? [] : [["Behind the writer", `${(figures.behind_ms / 1000).toFixed(1)} s`]]),
      ],
    ],
    [
      "Pictures",
      [
        ["Connected", whole(figures.clients)],
        .../** @type {Rows} */ (Object.entries(watching).map(([view, count]) => [`Watch ${view}`, whole(count)])),
        ["Read too slowly now", whole(figures.slow)],
        ["Cut off for it", whole(figures.let_go)],
        ["Frames sent", `${whole(figures.frames)}, ${bytesText(figures.bytes)}`],
        ["Making and sending", shareText(recent.publishing)],
        .../** @type {Rows} */ (Object.entries(figures.background_behind_s).map(([view, behind]) => [`${view} behind the count`, `${behind.toFixed(1)} s`])),
        ...helperRows(figures),
      ],
    ],
    [
      "Machine",
      [
        ["Late to its own work", shareText(recent.late)],
        .../** @type {Rows} */ (figures.memory === undefined ? [] : [["Memory", bytesText(figures.memory)]]),
        .../** @type {Rows} */ (figures.disk_free === undefined ? [] : [["Free on the journal's disk", bytesText(figures.disk_free)]]),
        ["Running for", upText(figures.up_s)],
        ["Program", figures.version],
      ],
    ],
  ]);
}

/**
 * Where call and standings are made, and how often that process was started anew.
 *
 * @param {Figures} figures
 * @returns {Rows}
 */
function helperRows({ helper: { where, state, ended }, helper_memory: memory }) {
  const made = where === "process" ? "own process" : "thread beside the taps";
  return [
    ["Call and standings", `${made}, ${state}`],
    .../** @type {Rows} */ (sum(ended) ? [["Started anew", whole(sum(ended))]] : []),
    .../** @type {Rows} */ (memory === undefined ? [] : [["Memory of that process", bytesText(memory)]]),
  ];
}

/**
 * @param {Figures} figures
 * @returns {Rows}
 */
function factRows({ facts, refused }) {
  const most = Object.entries(facts).sort(([, one], [, other]) => other - one);
  return [
    ["Taken since the start", whole(sum(facts))],
    .../** @type {Rows} */ (most.map(([kind, count]) => [kind.replaceAll("_", " "), whole(count)])),
    ["Refused", whole(sum(refused))],
    .../** @type {Rows} */ (Object.entries(refused).map(([code, count]) => [code.replaceAll("_", " "), whole(count)])),
  ];
}
