/** Draws the athlete of a practice, writing only what changed. */

import { part, setAttr, setText } from "../shared/dom.js";
import { drawing } from "./figure.js";

export class Stage {
  #root;
  #svg;

  /** @param {ParentNode} root */
  constructor(root) {
    this.#root = root;
    this.#svg = /** @type {Element} */ (root.querySelector("svg.athlete"));
  }

  /**
   * @param {import("./motion.js").Pose} pose
   * @param {{station: string, said: string}} words what the athlete is at, and what is said aloud
   */
  show(pose, { station, said }) {
    const { head, limbs, bar, line, gauge } = drawing(pose);
    this.#draw(".crown", "cx", head[0]);
    this.#draw(".crown", "cy", head[1]);
    this.#draw(".limbs", "d", limbs);
    this.#draw(".weight", "d", bar);
    this.#draw(".standard", "d", line);
    this.#draw(".level", "y", Math.round(222 - 190 * gauge));
    this.#draw(".level", "height", Math.round(190 * gauge));
    setText(part(this.#root, "at"), station);
    setText(part(this.#root, "reading"), pose.reading);
    setText(part(this.#root, "aloud"), said);
  }

  /**
   * @param {string} what
   * @param {string} name
   * @param {string | number} value
   */
  #draw(what, name, value) {
    const element = this.#svg.querySelector(what);
    if (element) setAttr(element, name, value);
  }
}
