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
  const merged = new Map(isObject(target) ? Object.entries(target) : []);
  for (const [name, value] of Object.entries(patch)) {
    if (value === null) merged.delete(name);
    else merged.set(name, applyPatch(merged.get(name), value));
  }
  // fromEntries defines own properties: a member called __proto__ stays data.
  return Object.fromEntries(merged);
}

/**
 * @param {unknown} value
 * @returns {value is {[name: string]: unknown}}
 */
function isObject(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}
