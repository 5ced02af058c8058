/**
 * Watches the page arrive. It is a plain script that is there before the modules, for when one of them is not: then the
 * page says so, does nothing until it is whole, and loads itself again as soon as the server answers.
 */

(() => {
  const LATE_MS = 10_000;
  const TOO_LATE_MS = 30_000;
  const TRY_EVERY_MS = 3000;
  const root = document.documentElement;

  /** Load again when the server answers: without it a browser would put its own page in place of this one. */
  async function tryAgain() {
    if (!root.hasAttribute("data-lost")) return;
    const answer = await fetch("../health", { cache: "no-store" }).catch(() => undefined);
    if (answer?.ok) location.reload();
    else setTimeout(tryAgain, TRY_EVERY_MS);
  }

  /** @param {string} key of the catalogue; where that is missing too, what stands there already stays */
  function tell(key) {
    const note = document.querySelector("[data-arriving]");
    const text = /** @type {any} */ (globalThis).WORDS?.texts[key];
    if (note && text) note.textContent = text;
  }

  function lose() {
    if (root.hasAttribute("data-arrived") || root.hasAttribute("data-lost")) return;
    root.setAttribute("data-lost", "");
    tell("shared.arriving_lost");
    setTimeout(tryAgain, TRY_EVERY_MS);
  }

  addEventListener("error", lose, true);
  setTimeout(() => root.hasAttribute("data-lost") || tell("shared.arriving_slow"), LATE_MS);
  setTimeout(lose, TOO_LATE_MS);
})();
