/**
 * A page that only watches: one view of one heat, its clock, and whether the link is up. `?heat=ID` watches that heat;
 * without it, whichever heat is on the floor.
 *
 * @typedef {import("./types.js").HeatFrame} HeatFrame
 *
 * @typedef {object} Watcher
 * @property {(frame: HeatFrame) => void} frame
 * @property {(clockMs: number | undefined, frame: HeatFrame) => void} tick before every picture the browser paints
 * @property {(link: {up: boolean, since: number}) => void} link
 */

import { heatClockMs } from "./clock.js";
import { openWire } from "./socket.js";

/**
 * Open the link and call the watcher from then on.
 *
 * @param {string} view
 * @param {Watcher} watcher
 */
export function watchLive(view, watcher) {
  const heat = new URLSearchParams(location.search).get("heat") ?? "floor";
  /** @type {HeatFrame | undefined} */
  let newest;
  const wire = openWire({
    role: "viewer",
    watch: [{ view, heat }],
    onFrame(_view, frame) {
      newest = frame;
      watcher.frame(frame);
    },
    onLink: (link) => watcher.link(link),
  });
  const paint = () => {
    if (newest) watcher.tick(heatClockMs(newest.clock, newest.speed ?? 1, wire.clock.nowMs()), newest);
    requestAnimationFrame(paint);
  };
  requestAnimationFrame(paint);
}
