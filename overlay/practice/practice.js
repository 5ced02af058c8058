/**
 * Practice for judges: `/practice/?heat=ID&lane=4&seed=7`. A made-up athlete works, the judge counts on the lane pad's own
 * surface, and this page alone marks it: nothing is sent.
 */

import { refusalText } from "../shared/refusal.js";
import { asked } from "../shared/asked.js";
import { keyedChildren, part, setAttr, setText, stamp } from "../shared/dom.js";
import { deviceStorage, stayAwake } from "../shared/device.js";
import { heatAsked } from "../shared/floor.js";
import { arrived } from "../shared/program.js";
import { say } from "../shared/say.js";
import { Fingers } from "../pad/fingers.js";
import { Screen } from "../pad/screen.js";
import { PadAlone } from "./alone.js";
import { bestScore, keepLane, keepScore, lastLane } from "./kept.js";
import { mark } from "./marking.js";
import { movesOf, poseAt } from "./motion.js";
import { Stage } from "./stage.js";
import { aloud, figures, LENGTHS, lengthText, scoreText, stationText } from "./words.js";
import { stepsOf } from "./work.js";

/** @typedef {import("./kept.js").Made} Made */

const STARTS_IN_MS = 4000;
/** The judge has so long for the last rep. */
const ENDS_AFTER_MS = 3000;
const TICK_MS = 200;
const SEEDS = 1_000_000;
const root = document.body;
const query = new URLSearchParams(location.search);
const storage = deviceStorage();
const stage = new Stage(root);
const still = matchMedia("(prefers-reduced-motion: reduce)");
/** @param {string} name */
const choice = (name) => /** @type {HTMLSelectElement} */ (part(root, name));
/** @type {Made | undefined} */
let made;
/** @type {Promise<Screen> | undefined} */
let surface;
/** @type {Running | undefined} */
let running;

/** @typedef {{pad: PadAlone, steps: import("./work.js").Step[], moves: import("./motion.js").Move[], endMs: number}} Running */

/**
 * Ask for a lane; without an answer the one that was practised last.
 *
 * @param {Record<string, string>} wish
 */
async function ask(wish) {
  setAttr(part(root, "start"), "disabled", true);
  const answer = await asked(`../practice?${new URLSearchParams(wish)}`, undefined);
  if (answer && !answer.ok) return tell(refusalText(answer.data));
  const found = answer ? /** @type {Made} */ (answer.data) : lastLane(storage);
  if (!found) return tell(say("practice.no_server"));
  if (answer) keepLane(storage, found);
  tell(answer ? "" : say("practice.last_lane"));
  offer(found);
}

/** @param {string} text */
function tell(text) {
  setText(part(root, "said"), text);
  // All at once, so that nothing moves when the letters come.
  void document.fonts.ready.then(() => setAttr(part(root, "practice"), "data-waits", false));
}

/** @param {Made} found */
function offer(found) {
  made = found;
  const { heats, frame, seed } = found;
  const own = heats.find(({ id }) => id === frame.heat.id);
  choice("heat-choice").replaceChildren(...heats.map(({ id, name, event }) => new Option(`${event}, ${name}`, id)));
  choice("heat-choice").value = frame.heat.id;
  choice("lane-choice").replaceChildren(...(own?.lanes ?? frame.order).map((lane) => new Option(String(lane))));
  choice("lane-choice").value = String(frame.order[0]);
  choice("seed").value = String(seed);
  setAttr(part(root, "start"), "disabled", false);
  showBest();
}

function wished() {
  return { heat: choice("heat-choice").value, lane: choice("lane-choice").value, seed: choice("seed").value };
}

/** The lane pad's own surface, from the pad's page: there is one. */
async function openSurface() {
  const address = `../pad/index.html${query.has("lang") ? `?lang=${query.get("lang")}` : ""}`;
  const answer = await fetch(address).catch(() => caches.match(address, { ignoreSearch: true }));
  if (!answer) throw new Error("found no lane pad, expected its page");
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  part(root, "surface-room").replaceChildren(...page.querySelectorAll("main.pad, template[data-part=member-template]"));
  const dispatch = (/** @type {import("../pad/reducer.js").PadEvent} */ event) => running?.pad.dispatch(event);
  const fingers = new Fingers({
    surface: () => running?.pad.surface() ?? "locked",
    touch: (tickMs, make) => running?.pad.touch(tickMs, make),
    dispatch,
  });
  const screen = new Screen(part(root, "surface-room"), { member: (member, key) => fingers.listenToMember(member, key) });
  fingers.listen(screen);
  return screen;
}

async function start() {
  if (!made) return;
  surface ??= openSurface();
  const screen = await surface;
  const { frame, truth } = made;
  const [lane] = frame.order;
  const steps = stepsOf(frame.event, frame.lanes[lane], truth);
  const length = choice("length").value;
  const last = (steps.at(-1)?.at_ms ?? 0) + ENDS_AFTER_MS;
  const endMs = Math.min(length === "all" ? Infinity : Number(length) * 60_000, last, frame.clock.cap_ms);
  show("running");
  running = { steps, moves: movesOf(steps, frame.lanes[lane].division), endMs, pad: new PadAlone(frame, { startsMs: performance.now() + STARTS_IN_MS, screen }) };
  requestAnimationFrame(paint);
}

function paint() {
  if (!running) return;
  const { pad, steps, moves, endMs } = running;
  const atMs = pad.clockMs();
  if (atMs !== undefined && atMs >= endMs) return finish();
  stage.show(poseAt(moves, atMs ?? 0, still.matches), { station: stationText(steps, atMs ?? 0), said: aloud(steps, atMs ?? 0) });
  requestAnimationFrame(paint);
}

function finish() {
  if (!running || !made) return;
  const { frame, truth } = made;
  const [lane] = frame.order;
  const until_ms = Math.min(running.pad.clockMs() ?? 0, running.endMs);
  const marked = mark({ event: frame.event, lane: frame.lanes[lane], truth, facts: running.pad.facts, until_ms });
  const whole = until_ms >= running.endMs;
  const tried = triedNow(made);
  const best = bestScore(storage, tried);
  running = undefined;
  setText(part(root, "score"), whole ? scoreText(marked.score, best) : say("practice.part", { score: marked.score }));
  if (whole) keepScore(storage, tried, marked.score);
  showStations([{ ...marked.all, title: say("practice.all"), where: "", from_ms: 0 }, ...marked.stations]);
  show("results");
  part(root, "results").focus();
}

/** @param {import("./marking.js").StationMark[]} marks */
function showStations(marks) {
  const rows = new Map(marks.map((each, index) => [String(index), each]));
  keyedChildren(part(root, "stations"), [...rows.keys()], () => stamp(root, "station-template"), (item, index) => {
    const station = /** @type {import("./marking.js").StationMark} */ (rows.get(index));
    setText(part(item, "title"), station.title);
    setText(part(item, "where"), station.where);
    part(item, "figures").replaceChildren(...figures(station).map(makeFigure));
  });
}

/** @param {ReturnType<typeof figures>[number]} figure */
function makeFigure([label, text, bad]) {
  const [pair, term, value] = ["div", "dt", "dd"].map((name) => document.createElement(name));
  setText(term, label);
  setText(value, text);
  setAttr(pair, "data-bad", bad);
  pair.append(term, value);
  return pair;
}

/** @param {"choosing" | "running" | "results"} now */
function show(now) {
  setAttr(part(root, "practice"), "data-now", now);
  for (const [name, when] of [["choosing", "choosing"], ["stage", "running"], ["surface-room", "running"], ["stop", "running"], ["results", "results"]]) {
    setAttr(part(root, name), "hidden", now !== when);
  }
  setAttr(part(root, "back"), "hidden", now === "running");
  if (now === "choosing") showBest();
}

/**
 * What is practised, as the score to beat is kept for it.
 *
 * @param {Made} of
 */
function triedNow({ frame, seed }) {
  return { workout: `${frame.competition.name} ${frame.event.id} ${frame.heat.id}`, lane: frame.order[0], seed, minutes: choice("length").value };
}

function showBest() {
  const best = made && bestScore(storage, triedNow(made));
  setText(part(root, "best"), best === undefined ? "" : say("practice.best", { score: best }));
}

part(root, "wishes").addEventListener("submit", (event) => {
  event.preventDefault();
  void start();
});
part(root, "wishes").addEventListener("change", (event) => {
  if (event.target === choice("length")) showBest();
  else void ask(wished());
});
part(root, "another").addEventListener("click", () => void ask({ ...wished(), seed: String(Math.floor(Math.random() * SEEDS)) }));
part(root, "stop").addEventListener("click", finish);
part(root, "again").addEventListener("click", () => void start());
part(root, "choose").addEventListener("click", () => show("choosing"));
choice("length").replaceChildren(...LENGTHS.map((value) => new Option(lengthText(value), value)));
if (query.has("lane") && location.hash) {
  setAttr(part(root, "back"), "href", `../pad/${location.search}${location.hash}`);
  setText(part(root, "back"), say("practice.back"));
}
const { lane, seed } = Object.fromEntries(query);
setInterval(() => running?.pad.dispatch({ type: "tick" }), TICK_MS);
stayAwake();
void ask({ heat: heatAsked(query), ...(lane && { lane }), ...(seed && { seed }) });
arrived();
