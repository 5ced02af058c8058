/**
 * Lanes that must not be seen. A medical hold takes somebody off the air at once, however far behind the output is; after its
 * release they come back with the first picture made since, never with one from before the hold. Pure.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {{order: string[], rows: Record<string, {entry: string}>}} Table
 */

export class OffAir {
  #lanes = new Until();
  #entries = new Until();

  /**
   * Note the newest list of the heat's lanes on hold as soon as it comes, without any delay.
   *
   * @param {readonly number[]} lanes
   * @param {number} unixMs when the list was made
   */
  take(lanes, unixMs) {
    this.#lanes.take(lanes.map(String), unixMs);
  }

  /**
   * Note the newest list of all entries on hold, including those in other heats.
   *
   * @param {readonly string[]} entries
   * @param {number} unixMs when the list was made
   */
  takeEntries(entries, unixMs) {
    this.#entries.take(entries, unixMs);
  }

  /**
   * Give a frame without the lanes and entries that are off the air.
   *
   * @param {HeatFrame} frame
   * @param {number} madeMs when it was made
   * @returns {HeatFrame}
   */
  strip(frame, madeMs) {
    const lanes = this.#lanes.of(madeMs);
    const entries = this.#entries.of(madeMs);
    return withoutEntries(withoutLanes(frame, lanes), entries);
  }
}

/** Names that must not be seen until a time. */
class Until {
  /** @type {Map<string, number>} name → shown only from what was made at this wall time on */
  #until = new Map();

  /**
   * @param {readonly string[]} held
   * @param {number} unixMs
   */
  take(held, unixMs) {
    for (const [name, until] of this.#until) if (until === Infinity && !held.includes(name)) this.#until.set(name, unixMs);
    for (const name of held) this.#until.set(name, Infinity);
  }

  /** Lanes that must not be in a picture made then. @param {number} madeMs */
  of(madeMs) {
    return new Set([...this.#until].filter(([, until]) => madeMs < until).map(([name]) => name));
  }
}

/**
 * @param {HeatFrame} frame
 * @param {Set<string>} gone
 * @returns {HeatFrame}
 */
function withoutLanes(frame, gone) {
  if (!Object.keys(frame.lanes).some((lane) => gone.has(lane))) return frame;
  const lanes = without(frame.lanes, (_, lane) => gone.has(lane));
  const order = frame.order.filter((lane) => lanes[lane]);
  const first = order.length ? lanes[order[0]] : undefined;
  return { ...frame, lanes, order, leader: first?.done ? { lane: first.lane, round: first.round } : {} };
}

/**
 * Tables over several heats, and the next heat.
 *
 * @param {any} frame
 * @param {Set<string>} gone
 * @returns {HeatFrame}
 */
function withoutEntries(frame, gone) {
  if (!gone.size) return frame;
  const tables = Object.fromEntries(
    ["ranking", "standings"].filter((name) => frame[name]).map((name) => [name, stripTables(frame[name], gone)]),
  );
  const next = frame.next && { next: { ...frame.next, lanes: without(frame.next.lanes, ({ entry }) => gone.has(entry)) } };
  return { ...frame, ...tables, ...next };
}

/**
 * @param {Record<string, Table>} tables by division
 * @param {Set<string>} gone
 */
function stripTables(tables, gone) {
  const strip = (/** @type {Table} */ table) => ({
    ...table,
    order: table.order.filter((entry) => !gone.has(entry)),
    rows: without(table.rows, ({ entry }) => gone.has(entry)),
  });
  return Object.fromEntries(Object.entries(tables).map(([division, table]) => [division, strip(table)]));
}

/**
 * @template T
 * @param {Record<string, T>} all
 * @param {(value: T, key: string) => boolean} isGone
 * @returns {Record<string, T>}
 */
function without(all, isGone) {
  return Object.fromEntries(Object.entries(all).filter(([key, value]) => !isGone(value, key)));
}
