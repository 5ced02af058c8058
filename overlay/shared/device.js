/** What a device can do beside showing a page: buzz, stay awake, keep things, and know its other windows. */

import { memoryStorage } from "./queue.js";
import { say } from "./say.js";

/** Buzzes in milliseconds: on, off, on … Each can be told from the others without looking. */
const BUZZES = {
  rep: [25],
  mark: [110],
  block: [110],
  noRep: [40, 50, 40],
  undo: [20, 40, 20, 40, 20],
  short: [12, 40, 12],
};

/** @param {keyof typeof BUZZES} kind */
export function buzz(kind) {
  navigator.vibrate?.(BUZZES[kind]);
}

/**
 * The browser's storage, or one that forgets with the page where that is switched off.
 *
 * @returns {import("./queue.js").StoragePort}
 */
export function deviceStorage() {
  try {
    localStorage.setItem("tallywire.probe", "1");
    localStorage.removeItem("tallywire.probe");
    return localStorage;
  } catch {
    return memoryStorage();
  }
}

/**
 * Follow the battery, where the browser tells.
 *
 * @returns {() => number | undefined} percent
 */
export function watchBattery() {
  const { getBattery } = /** @type {{getBattery?: () => Promise<{level: number}>}} */ (/** @type {unknown} */ (navigator));
  /** @type {{level: number} | undefined} */
  let battery;
  getBattery?.call(navigator).then((found) => (battery = found)).catch(() => {});
  return () => battery && Math.round(battery.level * 100);
}

/** About as much as a long heat's touches take. */
const ROOM = 256 * 1024;

/**
 * Why a store will not keep what is counted, before anything is; empty: it will.
 *
 * @param {import("./queue.js").StoragePort} storage
 */
export function storeFault(storage) {
  if (!(storage instanceof Storage)) return say("shared.store_none");
  try {
    storage.setItem("tallywire.probe", "0".repeat(ROOM));
    return "";
  } catch {
    return say("shared.store_full");
  } finally {
    storage.removeItem("tallywire.probe");
  }
}

/** A busy page finds no idle moment for so long at most. */
const IDLE_WITHIN_MS = 250;

/**
 * Do something when the page has nothing else to do, or soon where the browser does not tell.
 *
 * @param {() => void} act
 */
export function whenIdle(act) {
  if ("requestIdleCallback" in globalThis) requestIdleCallback(act, { timeout: IDLE_WITHIN_MS });
  else setTimeout(act, IDLE_WITHIN_MS);
}

/**
 * Keep the screen on while the page is seen, where the browser lets a page do that (it asks for https).
 *
 * @returns {boolean} whether it can be asked for
 */
export function stayAwake() {
  if (!("wakeLock" in navigator)) return false;
  const ask = () => {
    if (document.visibilityState === "visible") navigator.wakeLock.request("screen").catch(() => {});
  };
  document.addEventListener("visibilitychange", ask);
  ask();
  return true;
}

/** A barred window asks again so often whether the first one is still there; an answer takes no time. */
const ASK_EVERY_MS = 2000;

/**
 * Two windows of one browser would share one queue and one row of numbers. The first one stays, and the later one is
 * told; with `onFree` it takes over as soon as the first one is gone.
 *
 * @param {string} name of the queue
 * @param {() => void} onTaken
 * @param {() => void} [onFree]
 */
export function beTheOnlyWindow(name, onTaken, onFree) {
  if (onFree && "locks" in navigator) lockWindow(`tallywire.${name}`, onTaken, onFree);
  else if ("BroadcastChannel" in globalThis) askWindows(`tallywire.${name}`, onTaken, onFree);
}

/**
 * By the browser's own locks, which end with the window that holds them (Web Locks API; over https alone).
 *
 * @param {string} name
 * @param {() => void} onTaken
 * @param {() => void} onFree
 */
function lockWindow(name, onTaken, onFree) {
  const forEver = () => new Promise(() => {});
  const stay = () => {
    onFree();
    return forEver();
  };
  navigator.locks.request(name, { ifAvailable: true }, (got) => {
    if (got) return forEver();
    onTaken();
    void navigator.locks.request(name, stay);
    return undefined;
  });
}

/**
 * By asking the other windows.
 *
 * @param {string} name
 * @param {() => void} onTaken
 * @param {() => void} [onFree]
 */
function askWindows(name, onTaken, onFree) {
  const channel = new BroadcastChannel(name);
  let barred = false;
  let silent = 0;
  const ask = () => {
    silent += 1;
    if (silent > 2 && onFree) {
      barred = false;
      channel.postMessage("taken"); // a window that slept is told when it wakes
      return onFree();
    }
    channel.postMessage("anyone?");
    setTimeout(ask, ASK_EVERY_MS);
  };
  channel.onmessage = ({ data }) => {
    if (data === "anyone?" && !barred) channel.postMessage("taken");
    if (data !== "taken") return;
    silent = 0;
    if (barred) return;
    barred = true;
    onTaken();
    if (onFree) setTimeout(ask, ASK_EVERY_MS);
  };
  channel.postMessage("anyone?");
}
