/**
 * Places in a competition file's data, and changing a value there without changing what was before. Pure.
 *
 * @typedef {readonly (string | number)[]} Path such as `["heat", 0, "lanes", "3"]`
 * @typedef {any} Data what the file says: tables as objects, lists as arrays
 */

/**
 * A place as the server writes it, counted from 1: `heat[1].lanes.3`.
 *
 * @param {Path} path
 */
export function pathText(path) {
  return path.reduce((/** @type {string} */ text, step) => (typeof step === "number" ? `${text}[${step + 1}]` : text ? `${text}.${step}` : step), "");
}

/**
 * @param {Data} data
 * @param {Path} path
 * @returns {any} undefined where there is nothing
 */
export function valueAt(data, path) {
  return path.reduce((found, step) => (found === null || typeof found !== "object" ? undefined : found[step]), data);
}

/**
 * The data with another value at a place; undefined takes it away, and with it tables inside a table that are empty then.
 *
 * @param {Data} data
 * @param {Path} path
 * @param {unknown} value
 * @returns {Data}
 */
export function withValue(data, path, value) {
  if (!path.length) return value;
  const [step, ...rest] = path;
  const inner = withValue(data?.[step], rest, value);
  if (typeof step === "number") return withItem(data ?? [], step, inner);
  const { [step]: _, ...others } = data ?? {};
  const gone = inner === undefined || (rest.length === 1 && value === undefined && typeof rest[0] === "string" && isEmpty(inner));
  // The order of the fields stays.
  return gone ? others : data && step in data ? { ...data, [step]: inner } : { ...others, [step]: inner };
}

/**
 * @param {any[]} list
 * @param {number} index
 * @param {unknown} value
 */
function withItem(list, index, value) {
  return value === undefined ? list.filter((_, at) => at !== index) : [...list.slice(0, index), value, ...list.slice(index + 1)];
}

/** @param {unknown} value */
function isEmpty(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value) && !Object.keys(value).length;
}

/**
 * A list with the item at one place moved to its neighbour's.
 *
 * @template T
 * @param {readonly T[]} list
 * @param {number} index
 * @param {1 | -1} by
 * @returns {T[]} the same order where there is no neighbour
 */
export function moved(list, index, by) {
  const [made, other] = [[...list], index + by];
  if (index in made && other in made) [made[index], made[other]] = [made[other], made[index]];
  return made;
}
