/**
 * The program that a page is: kept by a service worker, so that the page opens without the network, and never older than
 * the server's.
 */

import { say } from "./say.js";
import { PAGES } from "./version.js";

/** The pages themselves go first on a slow network. */
const KEEP_AFTER_MS = 2000;
const TRY_EVERY_MS = 3000;
/** Longer than the worker waits for the server. */
const HANGS_MS = 8000;
const RENEWED = "tallywire.renewed";

let kept = false;

/**
 * Say that the page is whole and does its work from now on, and keep its program where the browser lets a page do that:
 * over https, and on the server's own machine.
 *
 * @param {() => void} [onKept] called once the page opens again without the network
 */
export function arrived(onKept = () => {}) {
  const root = document.documentElement;
  if (root.hasAttribute("data-lost")) return; // a style sheet is missing: the page is loaded again
  root.setAttribute("data-arrived", PAGES);
  document.querySelector("[data-arriving]")?.remove();
  if (!PAGES || !("serviceWorker" in navigator)) return;
  navigator.serviceWorker.ready.then(() => {
    kept = true;
    onKept();
  });
  setTimeout(() => navigator.serviceWorker.register("../worker.js").catch(() => {}), KEEP_AFTER_MS);
}

/**
 * What somebody has to know while there is no network.
 *
 * @returns {string} empty: the page may be loaded again
 */
export function stayWords() {
  return kept ? "" : say("shared.stay");
}

/** Load the page again, as soon as that does not put the browser's own page in its place. */
export async function loadAgain() {
  const answer = kept || (await fetch("../health", { cache: "no-store" }).catch(() => undefined))?.ok;
  if (answer) location.reload();
  else setTimeout(loadAgain, TRY_EVERY_MS);
}

/**
 * The server said which program it serves: another one is loaded, as soon as that loses nothing.
 *
 * @param {string | undefined} pages
 * @param {() => boolean} [mayLose] whether a reload now would lose something
 * @returns {boolean} whether the page is another program than the server's
 */
export function renewFor(pages, mayLose = () => false) {
  if (!PAGES || !pages || pages === PAGES) return false;
  // Once for each program: a page that stays what it is must not load itself for ever.
  const again = sessionStorage.getItem(RENEWED) === pages;
  const look = () => {
    if (mayLose()) setTimeout(look, TRY_EVERY_MS);
    else {
      sessionStorage.setItem(RENEWED, pages);
      location.reload();
      // A browser that is putting another worker in place may let the load hang: this runs only if it does.
      setTimeout(look, HANGS_MS);
    }
  };
  if (!again) look();
  return true;
}
