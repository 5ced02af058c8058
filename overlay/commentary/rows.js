/**
 * The table of lanes: the best first, each over its line of work, and the name of a division over its lanes where there
 * are several.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../shared/standing.js").Group} Group
 * @typedef {{work: import("../shared/workline.js").WorkLine, rounds: number}} Course
 */

/**
 * What a page says in the table.
 *
 * @template {HeatFrame} Frame
 * @typedef {object} RowWords
 * @property {(frame: Frame, lane: Frame["lanes"][string]) => Record<string, string | number>} cells by the name of their part
 * @property {(frame: Frame, lane: Frame["lanes"][string]) => boolean} endsRound whether the next number is the end of a round or of the work
 * @property {(frame: Frame, group: Group) => string} division what stands over a division
 * @property {(frame: Frame, lane: Frame["lanes"][string]) => boolean} [atRisk] whether the lane is to be marked as in danger of the cap
 */

import { keyedChildren, part, setAttr, setText, stamp } from "../shared/dom.js";
import { createLine, drawLine } from "../shared/drawline.js";
import { fitNames } from "../shared/fit.js";
import { groups, leads, lookOf } from "../shared/standing.js";
import { along, layOut, roundsOnLine } from "../shared/workline.js";

/** Spans every column there is; a browser cuts it to those. */
const EVERY_COLUMN = 15;
/** A window with so many pixels for each lane has rows in which a name may stand on two lines. */
const TWO_LINES_PX = 64;

/**
 * @template {HeatFrame} Frame
 * @param {HTMLTableElement} table
 * @param {Frame} frame
 * @param {RowWords<Frame>} words
 * @param {number | undefined} followed the lane that is followed
 */
export function drawRows(table, frame, words, followed) {
  const body = /** @type {HTMLElement} */ (table.tBodies[0] ?? table.createTBody());
  const found = groups(frame);
  const byDivision = new Map(found.map((group) => [group.division, group]));
  const keys = found.flatMap((group) => [
    ...(found.length > 1 ? [`division ${group.division}`] : []),
    ...group.lanes.map((lane) => `lane ${lane.lane}`),
  ]);
  const rounds = roundsOnLine(frame.event, Object.values(frame.lanes));
  const course = { work: layOut(frame.event, rounds), rounds };
  /** @type {import("../shared/fit.js").Name[]} */
  const names = [];
  keyedChildren(body, keys, makeRow, (row, key) => {
    const id = key.slice(key.indexOf(" ") + 1);
    const group = byDivision.get(id);
    const lane = /** @type {Frame["lanes"][string]} */ (frame.lanes[id]);
    if (key.startsWith("lane")) {
      drawRow(row, frame, words, { lane, course, followed });
      names.push({ element: part(row, "name"), full: lane.name, short: lane.short });
    } else if (group) setText(/** @type {Element} */ (row.firstElementChild), words.division(frame, group));
  });
  fitNames(names); // last: it measures, and what is drawn after that would slide in
}

/** @param {string} key */
function makeRow(key) {
  return key.startsWith("lane") ? laneRow() : divisionRow();
}

/** A copy of the page's row-template with its line of work. */
function laneRow() {
  const row = stamp(document, "row-template");
  part(row, "name").after(createLine());
  return row;
}

/** A row whose one cell takes the division's name. */
function divisionRow() {
  const row = document.createElement("tr");
  const head = document.createElement("th");
  head.colSpan = EVERY_COLUMN;
  head.scope = "rowgroup";
  head.className = "division";
  row.append(head);
  return row;
}

/**
 * @template {HeatFrame} Frame
 * @param {HTMLElement} row
 * @param {Frame} frame
 * @param {RowWords<Frame>} words
 * @param {{lane: Frame["lanes"][string], course: Course, followed: number | undefined}} shown
 */
function drawRow(row, frame, words, { lane, course, followed }) {
  const look = lookOf(frame, lane);
  setAttr(row, "data-lane", lane.lane);
  setAttr(row, "data-leads", leads(frame, lane));
  setAttr(row, "data-state", look);
  setAttr(row, "data-followed", lane.lane === followed);
  setAttr(row, "data-risk", words.atRisk?.(frame, lane) ? "likely" : undefined);
  for (const [name, text] of Object.entries(words.cells(frame, lane))) setText(part(row, name), text);
  setAttr(part(row, "meaning"), "data-round", words.endsRound(frame, lane));
  drawLine(part(row, "line"), course.work, along(frame.event, lane, course.rounds), look);
  setAttr(part(row, "name"), "data-two", innerHeight >= TWO_LINES_PX * Object.keys(frame.lanes).length);
}
