/** Making elements without markup in strings. */

/**
 * Make a <div> with a class for its looks and, where a page has to find it again, a data-part.
 *
 * @param {string} look
 * @param {string} [name] the data-part
 * @param {...(HTMLElement | string)} children
 * @returns {HTMLElement}
 */
export function make(look, name, ...children) {
  const made = document.createElement("div");
  made.className = look;
  if (name) made.dataset.part = name;
  made.append(...children);
  return made;
}
