/**
 * Snapshots come packed: the rows of a table as lists, and once for each table the names of what stands in them. Pure.
 */

/**
 * Give the frame that was packed.
 *
 * @param {Record<string, unknown>} frame
 * @param {Record<string, string[]>} [columns] by the JSON Pointer (RFC 6901) of the table; missing: nothing is packed
 * @returns {Record<string, unknown>}
 */
export function unpack(frame, columns) {
  if (!columns) return frame;
  return /** @type {Record<string, unknown>} */ (unpacked(frame, "", columns));
}

/**
 * @param {unknown} value
 * @param {string} pointer
 * @param {Record<string, string[]>} columns
 * @returns {unknown}
 */
function unpacked(value, pointer, columns) {
  const names = Object.hasOwn(columns, pointer) ? columns[pointer] : undefined;
  if (names && Array.isArray(value)) return value.map((row) => rowOf(names, row));
  if (typeof value !== "object" || value === null || Array.isArray(value)) return value;
  const each = Object.entries(value);
  if (names) return Object.fromEntries(each.map(([key, row]) => [key, rowOf(names, row)]));
  return Object.fromEntries(each.map(([key, part]) => [key, unpacked(part, `${pointer}/${escaped(key)}`, columns)]));
}

/**
 * What a row does not have is null in its list.
 *
 * @param {string[]} names
 * @param {unknown[]} values
 */
function rowOf(names, values) {
  return Object.fromEntries(names.map((name, index) => [name, values[index]]).filter(([, value]) => value !== null));
}

/** @param {string} name */
function escaped(name) {
  return name.replaceAll("~", "~0").replaceAll("/", "~1");
}
