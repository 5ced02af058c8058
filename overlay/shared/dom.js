/** Small helpers that find parts of a page by data-part and write to it only what changed. */

/**
 * Give the one element with this data-part inside `root`. Throws when the page has none: that is a mistake in the page.
 *
 * @param {ParentNode} root
 * @param {string} name
 * @returns {HTMLElement}
 */
export function part(root, name) {
  const found = root.querySelector(`[data-part="${name}"]`);
  if (!(found instanceof HTMLElement)) throw new Error(`found no data-part "${name}", expected one in the page`);
  return found;
}

/**
 * Give a copy of the first element inside the template with this data-part.
 *
 * @param {ParentNode} root
 * @param {string} name
 * @returns {HTMLElement}
 */
export function stamp(root, name) {
  const template = part(root, name);
  const first = template instanceof HTMLTemplateElement ? template.content.firstElementChild : null;
  if (!first) throw new Error(`found no element in template "${name}", expected one`);
  return /** @type {HTMLElement} */ (first.cloneNode(true));
}

/**
 * @param {Element} element
 * @param {string | number} text
 */
export function setText(element, text) {
  const next = String(text);
  if (element.textContent !== next) element.textContent = next;
}

/**
 * Set an attribute; false and undefined remove it, true sets it empty.
 *
 * @param {Element} element
 * @param {string} name
 * @param {string | number | boolean | undefined} value
 */
export function setAttr(element, name, value) {
  const next = value === undefined || value === false ? null : value === true ? "" : String(value);
  if (element.getAttribute(name) === next) return;
  if (next === null) element.removeAttribute(name);
  else element.setAttribute(name, next);
}

/**
 * Set a custom property of the element's style (the one place where a number may steer the look).
 *
 * @param {HTMLElement} element
 * @param {string} name
 * @param {string} value
 */
export function setVar(element, name, value) {
  if (element.style.getPropertyValue(name) !== value) element.style.setProperty(name, value);
}

/** @type {WeakMap<Element, Map<string, HTMLElement>>} */
const childrenOf = new WeakMap();

/**
 * Keep one child for every key, in the order of the keys. Children are made once, moved only when the order asks for
 * it, and removed when their key is gone.
 *
 * @param {Element} parent holds nothing else
 * @param {readonly (string | number)[]} keys
 * @param {(key: string) => HTMLElement} make
 * @param {(element: HTMLElement, key: string) => void} update
 */
export function keyedChildren(parent, keys, make, update) {
  const children = childrenOf.get(parent) ?? new Map();
  childrenOf.set(parent, children);
  const wanted = keys.map(String);
  dropOthers(children, new Set(wanted));
  wanted.forEach((key, index) => {
    const child = children.get(key) ?? make(key);
    children.set(key, child);
    if (parent.children[index] !== child) parent.insertBefore(child, parent.children[index] ?? null);
    update(child, key);
  });
}

/**
 * @param {Map<string, HTMLElement>} children
 * @param {Set<string>} wanted
 */
function dropOthers(children, wanted) {
  for (const [key, child] of children) {
    if (wanted.has(key)) continue;
    child.remove();
    children.delete(key);
  }
}
