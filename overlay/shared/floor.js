/**
 * The name of the heat on a floor, as the wire has it: `floor`, or `floor:` and the id of one of several floors. Pure.
 */

export const FLOOR = "floor";

/**
 * @param {string | null} [floor] the id of one of several floors
 */
export function floorName(floor) {
  return floor ? `${FLOOR}:${floor}` : FLOOR;
}

/**
 * Tell whether a page follows a floor, and does not stay with one heat.
 *
 * @param {string} heat as the page asks for it
 */
export function isFloor(heat) {
  return heat === FLOOR || heat.startsWith(`${FLOOR}:`);
}

/**
 * Give the id of the floor that a name means; empty: there is one floor, or none is meant.
 *
 * @param {string} heat as the page asks for it
 */
export function floorIn(heat) {
  return isFloor(heat) ? heat.slice(FLOOR.length + 1) : "";
}

/**
 * The heat that an address asks for: `?heat=ID` for that heat, `?floor=ID` for whichever is on one of several floors,
 * without both whichever is on the floor.
 *
 * @param {URLSearchParams} query
 */
export function heatAsked(query) {
  return query.get("heat") ?? floorName(query.get("floor"));
}

/**
 * What an output shows, of its own floor's heat unless it names one.
 *
 * @template {{params: Record<string, string>} | undefined} Item
 * @param {Item} item
 * @param {string} [floor] the output's; missing: there is one floor
 * @returns {Item}
 */
export function onItsFloor(item, floor) {
  return item && floor && !item.params.heat ? { ...item, params: { ...item.params, heat: floorName(floor) } } : item;
}
