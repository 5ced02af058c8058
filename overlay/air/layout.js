/**
 * Where the lanes of a standing go, so that the picture stays as low as it can: the floor is above it. Pure.
 *
 * @typedef {import("../shared/standing.js").Group} Group
 * @typedef {import("../shared/types.js").LaneData} LaneData
 *
 * @typedef {object} Cell a lane, or the name of a division that begins inside a column
 * @property {string} key
 * @property {number} column
 * @property {number} row
 * @property {Group} group
 * @property {LaneData} [lane]
 *
 * @typedef {object} Layout
 * @property {number} columns
 * @property {number} rows
 * @property {string[]} heads the division over each column; empty when there is one division, or one begins inside
 * @property {Cell[]} cells
 */

const MOST_COLUMNS = 3;
/** Up to this many lanes stand in two columns, which leaves room for a long name. */
const MOST_IN_TWO = 12;
/** A column of its own for each division is worth this many rows, not more. */
const MOST_OWN_ROWS = 8;
const MOST_UNSPLIT = 6;
/** How many stand in one column of an upright picture. */
const MOST_UPRIGHT = 12;

/**
 * Lay out the lanes, down each column and then on to the next.
 *
 * @param {readonly Group[]} groups
 * @param {{upright?: boolean}} [picture] upright: higher than wide, so that there is height but little width
 * @returns {Layout}
 */
export function layOutCells(groups, { upright = false } = {}) {
  if (groups.length < 2) return flow(groups.flatMap(lanesOf), upright);
  const named = groups.flatMap((group) => [{ key: `division ${group.division}`, group }, ...lanesOf(group)]);
  return (upright ? undefined : ownColumns(groups)) ?? flow(named, upright);
}

/** @typedef {Omit<Cell, "column" | "row">} Item */

/**
 * @param {Group} group
 * @returns {Item[]}
 */
function lanesOf(group) {
  return group.lanes.map((lane) => ({ key: `lane ${lane.lane}`, group, lane }));
}

/**
 * @param {readonly Item[]} items
 * @param {boolean} upright
 * @returns {Layout}
 */
function flow(items, upright) {
  const lying = items.length <= MOST_COLUMNS ? Math.max(1, items.length) : items.length <= MOST_IN_TWO ? 2 : 3;
  const columns = upright ? (items.length <= MOST_UPRIGHT ? 1 : 2) : lying;
  const rows = Math.max(1, Math.ceil(items.length / columns));
  return { columns, rows, heads: [], cells: items.map((item, index) => ({ ...item, ...spot(index, rows) })) };
}

/**
 * Every division in columns of its own, if they fit.
 *
 * @param {readonly Group[]} groups
 * @returns {Layout | undefined}
 */
function ownColumns(groups) {
  // A division is split over two columns only when it would stand too high in one.
  const fewest = Math.min(MOST_UNSPLIT, Math.max(...groups.map((group) => group.lanes.length)));
  for (let rows = fewest; rows <= MOST_OWN_ROWS; rows += 1) {
    const widths = groups.map((group) => Math.ceil(group.lanes.length / rows));
    const columns = widths.reduce((sum, width) => sum + width, 0);
    if (columns > MOST_COLUMNS) continue;
    /** @type {Layout} */
    const layout = { columns, rows, heads: [], cells: [] };
    groups.forEach((group, index) => {
      const first = layout.heads.length;
      const place = (/** @type {Item} */ item, /** @type {number} */ at) => ({ ...item, ...spot(at, rows, first) });
      layout.cells.push(...lanesOf(group).map(place));
      layout.heads.push(...Array.from({ length: widths[index] }, () => group.name));
    });
    return layout;
  }
  return undefined;
}

/**
 * @param {number} index
 * @param {number} rows
 * @param {number} [first] column
 */
function spot(index, rows, first = 0) {
  return { column: first + Math.floor(index / rows), row: index % rows };
}
