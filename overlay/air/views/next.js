/**
 * The next heat: which it is, and who is on which lane. Nothing on it has been raced, so there is nothing unofficial about it.
 */

import { say } from "../../shared/say.js";
import { heatTitle } from "../../shared/standing.js";
import { createTitle, drawHead } from "../head.js";
import { createStarters, drawStarters } from "../starters.js";

/** @type {import("../air.js").View} */
export const view = { watch: "next", official: true, create };

/**
 * @param {HTMLElement} root
 * @returns {import("../air.js").Picture}
 */
function create(root) {
  const [head, deck] = [createTitle(), createStarters()];
  deck.prepend(head);
  root.append(deck);
  return {
    draw(frame) {
      const { next } = frame;
      if (!next) return false;
      drawHead(head, { ...frame, event: { ...frame.event, ...next.event } }, [say("air.next_heat"), lanesText(next)], heatTitle(next));
      drawStarters(deck, next, ({ home }) => ({ about: home }));
      return true;
    },
    tick: () => undefined,
  };
}

/** @param {import("../../shared/types.js").NextHeat} next */
function lanesText({ lanes }) {
  const count = Object.keys(lanes).length;
  return say("air.count_floor", { n: count });
}
