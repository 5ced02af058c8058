/** Keeping the last good picture for a while without a link, then fading it out until there is a link again. */

import { setAttr } from "../shared/dom.js";

/**
 * @typedef {object} Hold
 * @property {number} ms how long; 0: never clear
 * @property {boolean} asks with the link back, stay clear until `answer` says that what is on is still right
 * @property {() => void} keep the link is back
 * @property {() => void} answer it is known again what should be on
 * @property {() => void} count the link is lost
 */

/**
 * @param {HTMLElement} root what is faded
 * @param {number} ms
 * @returns {Hold}
 */
export function createHold(root, ms) {
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  const stop = () => {
    clearTimeout(timer);
    timer = undefined;
  };
  return {
    ms,
    asks: false,
    keep() {
      stop();
      if (!this.asks) this.answer();
    },
    answer: () => setAttr(root, "data-cleared", false),
    count() {
      if (this.ms > 0) timer ??= setTimeout(() => setAttr(root, "data-cleared", true), this.ms);
    },
  };
}
