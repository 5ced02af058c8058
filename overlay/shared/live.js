/**
 * A page that only watches: one view of one heat, its clock, and whether the link is up. `?heat=ID` watches that heat,
 * `?floor=ID` whichever is on one of several floors; without both, whichever heat is on the floor.
 *
 * @typedef {import("./types.js").HeatFrame} HeatFrame
 *
 * @typedef {object} Watcher
 * @property {(frame: HeatFrame, view: string) => void} frame
 * @property {(clockMs: number | undefined, frame: HeatFrame, unixMs: number) => void} tick before every picture the browser
 *   paints; `unixMs` is the server's wall time
 * @property {(frame: HeatFrame) => string[]} [also] more views of the heat to watch now, which come to `frame` as well
 * @property {(link: {up: boolean, since: number}) => void} link
 */

import { heatClockMs } from "./clock.js";
import { heatAsked } from "./floor.js";
import { languageCode } from "./say.js";
import { openWire } from "./socket.js";

/**
 * Open the link and call the watcher from then on.
 *
 * @param {string} view
 * @param {Watcher} watcher
 */
export function watchLive(view, watcher) {
  const heat = heatAsked(new URLSearchParams(location.search));
  /** @type {HeatFrame | undefined} */
  let newest;
  let also = /** @type {string[]} */ ([]);
  const watchAlso = (/** @type {string[]} */ wanted) => {
    for (const each of also.filter((one) => !wanted.includes(one))) wire.unwatch(each, heat);
    for (const each of wanted.filter((one) => !also.includes(one))) wire.watch(each, heat);
    also = wanted;
  };
  const wire = openWire({
    role: "viewer",
    language: languageCode,
    watch: [{ view, heat }],
    onFrame(name, frame) {
      watcher.frame(frame, name);
      if (name !== view) return;
      newest = frame;
      watchAlso(watcher.also?.(frame) ?? []);
    },
    onLink: (link) => watcher.link(link),
  });
  const paint = () => {
    const unixMs = wire.clock.nowMs();
    if (newest) watcher.tick(heatClockMs(newest.clock, newest.speed ?? 1, unixMs), newest, unixMs);
    requestAnimationFrame(paint);
  };
  requestAnimationFrame(paint);
}
