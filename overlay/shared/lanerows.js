/** Rows of a table of lanes, as the commentators' pages have it: a lane over its line of work, and the name of a division. */

import { part, stamp } from "./dom.js";
import { createLine } from "./drawline.js";

/** Spans every column there is; a browser cuts it to those. */
const EVERY_COLUMN = 15;

/** @returns {HTMLElement} a copy of the page's row-template with its line of work */
export function laneRow() {
  const row = stamp(document, "row-template");
  part(row, "name").after(createLine());
  return row;
}

/** @returns {HTMLElement} a row whose one cell takes the division's name */
export function divisionRow() {
  const row = document.createElement("tr");
  const head = document.createElement("th");
  head.colSpan = EVERY_COLUMN;
  head.scope = "rowgroup";
  head.className = "division";
  row.append(head);
  return row;
}
