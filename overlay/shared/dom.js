/** Small helpers that find parts of a page by data-part and write to it only what changed. */

/**
 * Give the one element with this data-part inside `root`. Throws when the page has none: that is a mistake in the page.
 *
 * @param {ParentNode} root
 * @param {string} name
 * @returns {HTMLElement}
 */
export function part(root, name) {
  const known = partsOf.get(root)?.get(name);
  if (known && root.contains(known)) return known;
  const found = root.querySelector(`[data-part="${name}"]`);
  if (!(found instanceof HTMLElement)) throw new Error(`found no data-part "${name}", expected one in the page`);
  partsOf.set(root, (partsOf.get(root) ?? new Map()).set(name, found));
  return found;
}

/** @type {WeakMap<ParentNode, Map<string, HTMLElement>>} what was found before: looking is slow twenty-five times a second */
const partsOf = new WeakMap();

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
 * Write a text. The text node stays: a new one would have to be styled and laid out from the beginning.
 *
 * @param {Element} element holds nothing else
 * @param {string | number} text
 */
export function setText(element, text) {
  const next = String(text);
  const first = element.firstChild;
  if (first instanceof Text && !first.nextSibling) {
    if (first.data !== next) first.data = next;
  } else if (element.textContent !== next) element.textContent = next;
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
  const known = varsOf.get(element) ?? new Map();
  if (known.get(name) === value) return;
  varsOf.set(element, known.set(name, value));
  element.style.setProperty(name, value);
}

/** @type {WeakMap<HTMLElement, Map<string, string>>} what was written: reading a style back is slow */
const varsOf = new WeakMap();

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
  let next = parent.firstElementChild;
  for (const key of wanted) {
    const child = children.get(key) ?? make(key);
    children.set(key, child);
    if (child === next) next = child.nextElementSibling;
    else parent.insertBefore(child, next);
    update(child, key);
  }
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
