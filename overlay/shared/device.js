/** What a device can do beside showing a page: buzz, stay awake, keep things, and know its other windows. */

import { memoryStorage } from "./queue.js";

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

/**
 * Two windows of one browser would share one queue and one row of numbers. The first one stays, and the later one is
 * told.
 * @param {string} name of the queue
 * @param {() => void} onTaken
 */
export function beTheOnlyWindow(name, onTaken) {
  if (!("BroadcastChannel" in globalThis)) return;
  const channel = new BroadcastChannel(`tallywire.${name}`);
  let barred = false;
  channel.onmessage = ({ data }) => {
    if (data === "taken") barred = true;
    if (data === "taken") onTaken();
    if (data === "anyone?" && !barred) channel.postMessage("taken");
  };
  channel.postMessage("anyone?");
}
