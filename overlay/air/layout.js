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
/**
 * How high a picture may become. `inTwo`: up to this many lanes stand in two columns, which leaves room for a long name;
 * `ownRows`: a column of its own for each division is worth this many rows, not more; `unsplit`: so many of a division
 * stay in one; `upright`: how many stand in one column of an upright picture.
 */
const LOW = { inTwo: 12, ownRows: 8, unsplit: 6, upright: 12 };
/** After the heat nobody is above the picture: names have more room. */
const HIGH = { inTwo: 24, ownRows: 12, unsplit: 10, upright: 24 };

/**
 * Lay out the lanes, down each column and then on to the next.
 *
 * @param {readonly Group[]} groups
 * @param {{upright?: boolean, over?: boolean}} [picture] upright: higher than wide, so that there is height but little width; over: nobody races any more
 * @returns {Layout}
 */
export function layOutCells(groups, { upright = false, over = false } = {}) {
  const most = over ? HIGH : LOW;
  if (groups.length < 2) return flow(groups.flatMap(lanesOf), upright, most);
  const named = groups.flatMap((group) => [{ key: `division ${group.division}`, group }, ...lanesOf(group)]);
  return (upright ? undefined : ownColumns(groups, most)) ?? flow(named, upright, most);
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
 * @param {typeof LOW} most
 * @returns {Layout}
 */
function flow(items, upright, most) {
  const lying = items.length <= MOST_COLUMNS ? Math.max(1, items.length) : items.length <= most.inTwo ? 2 : 3;
  const columns = upright ? (items.length <= most.upright ? 1 : 2) : lying;
  const rows = Math.max(1, Math.ceil(items.length / columns));
  return { columns, rows, heads: [], cells: items.map((item, index) => ({ ...item, ...spot(index, rows) })) };
}

/**
 * Every division in columns of its own, if they fit.
 *
 * @param {readonly Group[]} groups
 * @param {typeof LOW} most
 * @returns {Layout | undefined}
 */
function ownColumns(groups, most) {
  // A division is split over two columns only when it would stand too high in one.
  const fewest = Math.min(most.unsplit, Math.max(...groups.map((group) => group.lanes.length)));
  for (let rows = fewest; rows <= most.ownRows; rows += 1) {
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
