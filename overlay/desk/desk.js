/**
 * The graphics desk: `/desk/#key=…`, and `?output=ID` to begin with another output than the first. Choose, check, take,
 * clear. What it sends are facts of the show; what is on programme is told by the server, never by this page. This page
 * wires the socket, the keys and the screen to the reducer and carries out its effects.
 */

import { refusalText } from "../shared/refusal.js";
import { asked } from "../shared/asked.js";
import { beTheOnlyWindow, deviceStorage } from "../shared/device.js";
import { part } from "../shared/dom.js";
import { keyFrom } from "../shared/key.js";
import { arrived, renewFor, stayWords } from "../shared/program.js";
import { randomHex } from "../shared/queue.js";
import { openWire } from "../shared/socket.js";
import { reduce } from "./reducer.js";
import { Screen } from "./screen.js";
import { NOT_SAVED, savedText } from "./words.js";
import { clockMs, openDesk, sideOf, watchesOf } from "./state.js";

const LOOK_MS = 100;
/** These go on as long as their key is held. */
const REPEATED = ["next", "previous", "later", "sooner"];

const storage = deviceStorage();
const tab = tabName();
const output = new URLSearchParams(location.search).get("output") ?? "";
let state = openDesk({ tab, sender: `${tab}-${randomHex(3)}`, output, storage }, Date.now());
const screen = new Screen(document.body, dispatch);
let watched = watchesOf(state);

const wire = openWire({
  role: "desk",
  key: keyFrom(location),
  sender: () => {
    dispatch({ type: "begin" });
    return state.sender.name;
  },
  watch: watched,
  onFrame: (view, frame, heat, unixMs) => dispatch({ type: "frame", view, frame, heat, unixMs }),
  onLink: (link) => dispatch({ type: "link", link }),
  onMessage: (message) => {
    if (message.type === "welcome") renewFor(message.pages);
    dispatch({ type: "message", message });
  },
});

/** @returns {import("./state.js").Instant} */
function now() {
  const known = wire.clock.errorMs() !== undefined;
  return { nowMs: Date.now(), serverMs: wire.clock.nowMs(), known, tickMs: performance.now(), id: randomHex(8) };
}

/** @param {import("./reducer.js").DeskEvent} event */
function dispatch(event) {
  const { state: after, effects } = reduce(state, event, now());
  state = after;
  effects.forEach(carryOut);
  watch(watchesOf(state));
  render();
}

/**
 * Watch these from now on, and nothing else.
 *
 * @param {{view: string, heat: string}[]} wanted
 */
function watch(wanted) {
  const among = (/** @type {typeof wanted} */ list) => (/** @type {typeof wanted[0]} */ one) => list.some(({ view, heat }) => view === one.view && heat === one.heat);
  const [old, fresh] = [watched.filter((one) => !among(wanted)(one)), wanted.filter((one) => !among(watched)(one))];
  watched = wanted;
  for (const { view, heat } of old) wire.unwatch(view, heat); // first: one client may watch nine views
  for (const { view, heat } of fresh) wire.watch(view, heat);
}

/** @param {import("./reducer.js").DeskEffect} effect */
function carryOut(effect) {
  if (effect.do === "restart") wire.restart();
  else if (effect.do === "store") keep(effect);
  else if (effect.do === "saveRundown") void saveRundown(effect.output);
  else if (!wire.send(effect.message)) dispatch({ type: "unsent", sequence: effect.message.facts[0].sequence });
}

/** Let the server write the rundown into its file. @param {string} name of the output */
async function saveRundown(name) {
  const answer = await asked("../rundown/save", keyFrom(location), { output: name });
  dispatch({ type: "said", text: answer?.ok ? savedText(answer.data.name) : answer ? refusalText(answer.data) : NOT_SAVED });
}

/** @param {{key: string, text: string}} write */
function keep({ key, text }) {
  try {
    storage.setItem(key, text);
  } catch {
    // The keys hold until the page is closed.
  }
}

/** The name of this window: it survives a reload, so that the automatic mode goes on. */
function tabName() {
  const [session, key] = [window.sessionStorage, "tallywire.desk.name"];
  const name = session.getItem(key) ?? randomHex(3);
  session.setItem(key, name);
  beTheOnlyWindow(`desk.${name}`, () => {
    session.setItem(key, randomHex(3)); // a copy of another window is a desk of its own
    location.reload();
  });
  return name;
}

function render() {
  const instant = now();
  screen.draw(state, sideOf(state).hand, clockMs(state, instant), stayWords());
}

addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  if (state.changing) {
    event.preventDefault();
    return dispatch({ type: "newKey", key: event.key });
  }
  const { target } = event;
  if (target instanceof HTMLInputElement || target instanceof HTMLSelectElement) return;
  // Someone who works with Tab presses a button with the space bar: then it is the button's.
  if (target instanceof HTMLButtonElement && event.key === " ") return;
  const id = state.keys.actionOf(event.key);
  if (id === undefined) return;
  event.preventDefault();
  if (!event.repeat || REPEATED.includes(id)) dispatch({ type: "act", id });
});

// After a click the keys are the desk's again.
addEventListener("click", (event) => {
  const { activeElement } = document;
  if (event.detail > 0 && activeElement instanceof HTMLButtonElement) activeElement.blur();
});
addEventListener("message", (event) => {
  const preview = /** @type {HTMLIFrameElement} */ (part(document, "preview-frame"));
  if (event.origin === location.origin && event.source === preview.contentWindow) screen.previewIsReady();
});
setInterval(() => dispatch({ type: "tick" }), LOOK_MS);
arrived();
