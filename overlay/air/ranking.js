/**
 * Tables of names with a number or two, in columns, page by page when there are more than one picture holds.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").Named} Named
 * @typedef {import("./layout.js").Layout} Layout
 */

import { keyedChildren, part, setAttr, setText } from "../shared/dom.js";
import { fitName } from "../shared/fit.js";
import { make } from "../shared/make.js";
import { say } from "../shared/say.js";
import { floorOrder } from "../shared/standing.js";
import { drawCells, isUpright, setShape } from "./cells.js";
import { createTitle, drawHead } from "./head.js";

/** How many names stand on one page. */
export const MOST_ON_PAGE = 20;
/** More than this stand in two columns. */
const MOST_IN_ONE = 5;
/** How long a page stays: long enough to read twenty names. */
export const PAGE_MS = 10_000;

/** @returns {HTMLElement} */
function createRanking() {
  return make("deck ranking", "deck", make("deck-rulers", "heads"), make("deck-rows", "rows"), make("rank-more", "more"));
}

/** @returns {HTMLElement} */
function createRank() {
  const names = [make("row-place", "place"), make("rank-move", "move"), make("row-name name", "name"), make("rank-about", "about")];
  return make("row rank fresh", "row", ...names, make("row-gap", "gap"), make("row-figure", "figure"));
}

/**
 * Turn the pages: each stays a while; a page with somebody marked on it stays for good.
 *
 * @param {() => number} [now]
 */
export function createPages(now = () => performance.now()) {
  const since = now();
  let [count, marked, shown] = [0, -1, 0];
  const page = () => (marked >= 0 ? Math.floor(marked / MOST_ON_PAGE) : Math.floor((now() - since) / PAGE_MS) % pages());
  const pages = () => Math.max(1, Math.ceil(count / MOST_ON_PAGE));
  return {
    /** @param {number} of how many there are @param {number} at the index of the one marked, or −1 */
    turn(of, at) {
      [count, marked] = [of, at];
      shown = page();
      return { page: shown, pages: pages() };
    },
    /** Whether the next page is due. */
    due: () => page() !== shown,
  };
}

/**
 * @template {Named} Row
 * @typedef {object} Table what a view of a table says
 * @property {(frame: HeatFrame, name: string) => {order: string[], rows: Record<string, Row>, part?: string} | undefined} tableOf by
 * division, or by one of several scores and division with a slash between
 * @property {(frame: HeatFrame, division: string) => [string, string]} said beside the name of the event
 * @property {[string, string]} heads over the last two columns
 * @property {(row: HTMLElement, data: Row) => void} drawRow all but place and name
 * @property {(deck: HTMLElement, rows: Row[]) => void} look
 */

/**
 * Make the picture of a table over several heats, one division at a time.
 *
 * @template {Named} Row
 * @param {HTMLElement} root
 * @param {import("./who.js").Pick} pick marks somebody, and so names the division and the page
 * @param {import("../shared/types.js").Params} params
 * @param {Table<Row>} table
 * @returns {import("./air.js").Picture}
 */
export function createTable(root, pick, { who, part: score }, table) {
  const [head, deck, pages] = [createTitle(), createRanking(), createPages()];
  deck.prepend(head);
  root.append(deck);
  const draw = (/** @type {HeatFrame} */ frame) => {
    const [marked] = pick(frame);
    const division = divisionOf(frame, marked) ?? "";
    const found = table.tableOf(frame, score ? `${score}/${division}` : division);
    if (!found?.order.length || (who && !marked)) return false;
    const rows = rowsOf(frame, found);
    const at = pages.turn(rows.length, rows.findIndex((row) => row.entry === marked?.entry));
    const under = [frame.divisions[division]?.name, found.part].filter(Boolean).join(" · ");
    drawHead(head, frame, table.said(frame, division), under);
    setAttr(deck, "data-results", true);
    table.look(deck, rows);
    drawPage(deck, rows, at, table.heads, (row, data) => {
      setAttr(row, "data-marked", data.entry === marked?.entry);
      table.drawRow(row, data);
    });
    return true;
  };
  return { draw, tick: (_, frame) => void (pages.due() && draw(frame)) };
}

/**
 * The division a table is of: that of whoever is marked, otherwise that of the lowest lane.
 *
 * @param {HeatFrame} frame
 * @param {import("../shared/types.js").LaneData | undefined} marked
 * @returns {string | undefined}
 */
function divisionOf(frame, marked) {
  return (marked ?? floorOrder(frame)[0])?.division ?? Object.keys(frame.ranking ?? frame.standings ?? {})[0];
}

/**
 * The rows of a table in their order, without those whose lane is off the air.
 *
 * @template {Named} Row
 * @param {HeatFrame} frame
 * @param {{order: string[], rows: Record<string, Row>}} table
 * @returns {Row[]}
 */
function rowsOf(frame, { order, rows }) {
  return order.map((entry) => rows[entry]).filter((row) => row && (row.lane === undefined || frame.lanes[row.lane]));
}

/**
 * Draw one page of a table.
 *
 * @template {Named} Row
 * @param {HTMLElement} deck made by createRanking
 * @param {Row[]} rows all of them
 * @param {{page: number, pages: number}} turn
 * @param {[string, string]} heads
 * @param {(row: HTMLElement, data: Row) => void} draw
 */
function drawPage(deck, rows, { page, pages }, heads, draw) {
  const shown = rows.slice(page * MOST_ON_PAGE, (page + 1) * MOST_ON_PAGE);
  const columns = !isUpright() && shown.length > MOST_IN_ONE ? 2 : 1;
  const height = Math.max(1, Math.ceil(shown.length / columns));
  const cells = shown.map((row, index) => ({
    key: `entry ${row.entry}`,
    column: Math.floor(index / height),
    row: index % height,
    group: { division: "", name: "", lanes: [] },
    lane: /** @type {any} */ (row),
  }));
  const layout = { columns, rows: height, heads: [], cells };
  setShape(deck, layout);
  drawHeads(part(deck, "heads"), layout, heads);
  drawCells(part(deck, "rows"), layout, createRank, (element, { lane }) => {
    const row = /** @type {Row} */ (/** @type {unknown} */ (lane));
    draw(element, row);
    fitName(part(element, "name"), row.name, row.short); // last: it measures
  });
  const first = page * MOST_ON_PAGE + 1;
  setAttr(part(deck, "more"), "hidden", pages < 2);
  setText(part(deck, "more"), say("air.more", { first, last: first + shown.length - 1, of: rows.length }));
}

/**
 * Over every column: its division if it has one of its own, and what its last two numbers are.
 *
 * @param {HTMLElement} heads
 * @param {Layout} layout
 * @param {[string, string]} words
 */
export function drawHeads(heads, { columns, heads: names }, [gap, figure]) {
  const keys = Array.from({ length: columns }, (_, index) => index);
  const makeHead = () => make("rank-head", "", make("deck-head name", "head"), make("rank-label", "one"), make("rank-label", "two"));
  keyedChildren(heads, keys, makeHead, (element, key) => {
    setText(part(element, "head"), names[Number(key)] ?? "");
    setText(part(element, "one"), gap);
    setText(part(element, "two"), figure);
  });
}
