/** JSON Merge Patch (RFC 7396). */

/**
 * Give the target with the patch applied (RFC 7396 §2). The target is left as it is, and parts that the patch does
 * not touch are shared with the result, so that a changed part can be told by `!==`.
 *
 * @param {unknown} target
 * @param {unknown} patch
 * @returns {unknown}
 */
export function applyPatch(target, patch) {
  if (!isObject(patch)) return patch;
  /** @type {{[name: string]: unknown}} */
  const merged = isObject(target) ? { ...target } : {};
  for (const [name, value] of Object.entries(patch)) {
    if (value === null) delete merged[name];
    else put(merged, name, applyPatch(Object.hasOwn(merged, name) ? merged[name] : undefined, value));
  }
  return merged;
}

/**
 * Set an own property, whatever it is called: a member called __proto__ stays data.
 *
 * @param {{[name: string]: unknown}} target
 * @param {string} name
 * @param {unknown} value
 */
function put(target, name, value) {
  if (name === "__proto__") Object.defineProperty(target, name, { value, writable: true, enumerable: true, configurable: true });
  else target[name] = value;
}

/**
 * @param {unknown} value
 * @returns {value is {[name: string]: unknown}}
 */
function isObject(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}
