/**
 * What is on the air: one picture at a time. The next is made and drawn unseen before it takes over in a calm
 * cross-fade, so that a half-loaded picture is never seen. If the next cannot be made, the present picture stays.
 * @typedef {import("../shared/types.js").Item} Item
 */

import { Layer } from "./layer.js";

export class Player {
  #root;
  #feed;
  /** @type {Layer | undefined} */
  #layer;
  /** @type {Layer | undefined} */
  #next;
  #turn = 0;

  /**
   * @param {HTMLElement} root
   * @param {import("./feed.js").Feed} feed
   */
  constructor(root, feed) {
    this.#root = root;
    this.#feed = feed;
    /** Nobody watches yet, or only the operator does, so the first picture need not fade in, nor wait for the athlete
     * it is about. */
    this.atOnce = true;
  }

  /**
   * Bring a picture on; undefined clears. When it is called again before the picture is there, only the last call
   * counts.
   * @param {Item | undefined} item
   */
  async bring(item) {
    this.#turn += 1;
    const turn = this.#turn;
    this.#drop();
    if (!item) return this.#swap(undefined);
    const [view] = await Promise.all([loadView(item.view), faces()]);
    if (turn !== this.#turn) return;
    const layer = new Layer(this.#root, view, item, this.#feed, !this.atOnce);
    this.#next = layer;
    await layer.whole;
    if (turn !== this.#turn) return;
    this.#next = undefined;
    this.#swap(layer);
  }

  /** Draw again, because the picture has another size. */
  redraw() {
    this.#layer?.redraw();
    this.#next?.redraw();
  }

  /** @param {Layer | undefined} layer */
  #swap(layer) {
    const before = this.#layer;
    this.#layer = layer;
    layer?.show(this.atOnce && !before);
    before?.leave();
  }

  #drop() {
    this.#next?.leave();
    this.#next = undefined;
  }
}

/**
 * @param {string} name
 * @returns {Promise<import("./air.js").View>}
 */
async function loadView(name) {
  if (!/^[a-z][a-z-]*$/.test(name)) throw new Error(`found view "${name}", expected the name of a file in views/`);
  return (await import(`./views/${name}.js`)).view;
}

/** The typeface, a theme's included, must be loaded before a name is measured. Latin and extended Latin are two files.
 * */
function faces() {
  const face = getComputedStyle(document.documentElement).getPropertyValue("--face");
  // A theme's file may be no typeface at all: then ours stands in for it, and the picture is there.
  return Promise.allSettled([600, 700].map((weight) => document.fonts.load(`${weight} 32px ${face}`, "Aā0")));
}
