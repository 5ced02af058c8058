/** Connects the fingers on a pad to what happens on it: the surface, the keys, and those of a team. */

import { onPress } from "./press.js";
import { holdMs } from "./reducer.js";

/** Long enough that a hand that brushes a key does nothing, short enough for a call made aloud. */
const KEY_HOLD_MS = 250;

/**
 * @typedef {object} Hand
 * @property {() => string} surface what the surface is now
 * @property {(tickMs: number, make: (atMs: number, serverMs: number) => import("./reducer.js").PadEvent) => void} touch
 * @property {(event: import("./reducer.js").PadEvent) => void} dispatch
 */

export class Fingers {
  #hand;

  /** @param {Hand} hand */
  constructor(hand) {
    this.#hand = hand;
  }

  /** @param {import("./screen.js").Screen} screen */
  listen(screen) {
    const { surface, touch, dispatch } = this.#hand;
    onPress(screen.surface, {
      begin: (tickMs) => ({ tickMs, surface: surface() }),
      holdMs: (began) => holdMs(began.surface),
      done: ({ surface: began, tickMs }, point) => touch(tickMs, (atMs, serverMs) => ({ type: "pressed", began: { surface: began, atMs, serverMs }, point })),
      short: () => dispatch({ type: "short", key: "surface" }),
    });
    for (const key of /** @type {const} */ (["undo", "noRep", "finish"])) this.#onKey(screen[key], key, (atMs) => ({ type: key, atMs }));
  }

  /**
   * @param {string} member a member's number, or `all`
   * @param {HTMLElement} key
   */
  listenToMember(member, key) {
    this.#onKey(key, "member", (atMs) => ({ type: "member", member, atMs }));
  }

  /**
   * @param {HTMLElement} element
   * @param {import("./reducer.js").LetGo["key"]} key
   * @param {(atMs: number) => import("./reducer.js").PadEvent} make
   */
  #onKey(element, key, make) {
    onPress(element, {
      begin: (tickMs) => tickMs,
      holdMs: () => KEY_HOLD_MS,
      done: (tickMs) => this.#hand.touch(tickMs, make),
      short: () => this.#hand.dispatch({ type: "short", key }),
    });
  }
}
