/** Daylight or dark colours, as the commentator chose them on this device, or else as the device has them. */

import { part, setText } from "../shared/dom.js";
import { say } from "../shared/say.js";

const KEY = "tallywire.gaps.theme";

/** Put on the colours that were chosen last. */
export function openTheme() {
  setTheme(localStorage.getItem(KEY) ?? (matchMedia("(prefers-color-scheme: light)").matches ? "daylight" : "dark"));
}

/** Change to the other colours and remember them. */
export function toggleTheme() {
  const theme = document.documentElement.dataset.theme === "daylight" ? "dark" : "daylight";
  setTheme(theme);
  localStorage.setItem(KEY, theme);
}

/** @param {string} theme */
function setTheme(theme) {
  document.documentElement.dataset.theme = theme;
  setText(part(document, "other-theme"), theme === "daylight" ? say("commentary.dark") : say("commentary.daylight"));
}
