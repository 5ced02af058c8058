/**
 * The spectator page: the heat on the floor for anybody's phone, from the public feed alone. Who is followed is kept on
 * this device and told to nobody. `?floor=ID` shows one of several floors.
 *
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 */

import { heatClockMs } from "../shared/clock.js";
import { keyedChildren, part, setAttr, setText } from "../shared/dom.js";
import { fitName, refitAll } from "../shared/fit.js";
import { clockText, dayClockText } from "../shared/format.js";
import { make } from "../shared/make.js";
import { say } from "../shared/say.js";
import { heatTitle, limitText } from "../shared/standing.js";
import { get, newest } from "./early.js";
import { PictureTime, readFeed } from "./feed.js";
import { cardLines, laneOf } from "./needs.js";
import { drawLanes, drawStandings, drawRanking } from "./rows.js";

const page = part(document, "page");
const time = new PictureTime();
const daylight = matchMedia("(prefers-color-scheme: light)");
/** So long pictures may stand still before the page says so. */
const STILL_MS = 15_000;
const TICK_MS = 200;
const FOLLOWED = "tallywire spectator";
const STAGES = { live: say("shared.unofficial"), provisional: say("shared.unofficial"), official: say("public.official"), amended: say("public.amended") };

/** @type {HeatFrame | undefined} */
let shown;
let [failures, newestMs, movedMs] = [0, 0, 0];
let followed = kept();

const askNow = readFeed({
  newest,
  get,
  after: (ms, act) => void setTimeout(act, ms),
  random: Math.random,
  isSeen: () => !document.hidden,
  show({ picture, unixMs }) {
    failures = 0;
    if (unixMs !== newestMs) [newestMs, movedMs] = [unixMs, performance.now()];
    time.add(unixMs, performance.now());
    shown = picture;
    draw();
  },
  failed(times) {
    failures = times;
    drawLink();
  },
});
document.addEventListener("visibilitychange", () => void (document.hidden || askNow()));
addEventListener("online", askNow);
addEventListener("resize", () => {
  refitAll();
  draw();
});
daylight.addEventListener("change", light);
light();
setInterval(drawClock, TICK_MS);

function light() {
  setAttr(document.body, "data-theme", daylight.matches ? "daylight" : "dark");
}

offerLanguages();

/** The page in the other languages, where the competition lets spectators choose. */
function offerLanguages() {
  const { languages = "" } = document.documentElement.dataset;
  const up = location.pathname.endsWith("/public/") ? "" : "../";
  for (const code of languages.split(" ").filter(Boolean)) {
    const link = document.createElement("a");
    link.lang = code;
    link.href = `${up}${code}/${location.search}`;
    link.textContent = new Intl.DisplayNames([code], { type: "language" }).of(code) ?? code;
    setAttr(link, "aria-current", code === document.documentElement.lang ? "true" : undefined);
    part(page, "languages").append(link, " ");
  }
}

/** @param {string} entry */
function follow(entry) {
  followed = followed === entry ? undefined : entry;
  try {
    if (followed === undefined) localStorage.removeItem(FOLLOWED);
    else localStorage.setItem(FOLLOWED, followed);
  } catch {
    // A browser that keeps nothing follows until the page is closed.
  }
  draw();
}

function kept() {
  try {
    return localStorage.getItem(FOLLOWED) ?? undefined;
  } catch {
    return undefined;
  }
}

function draw() {
  if (!shown) return;
  setAttr(part(page, "body"), "hidden", false);
  fitName(part(page, "competition"), shown.competition.name, shown.competition.name);
  fitName(part(page, "title"), shown.event.name, shown.event.name);
  setText(part(page, "heat-heading"), shown.heat.floor ? `${shown.heat.floor.name} · ${heatTitle(shown)}` : heatTitle(shown));
  setText(part(page, "limit"), limitText(shown));
  setText(part(page, "stage"), STAGES[shown.result?.stage ?? "live"]);
  setAttr(part(page, "rehearsal"), "hidden", shown.mode !== "rehearsal");
  setAttr(part(page, "empty"), "hidden", shown.order.length > 0);
  drawCard(shown);
  drawLanes(part(page, "lanes"), shown, followed, follow);
  drawRanking(part(page, "ranking"), shown, followed, follow);
  drawStandings(part(page, "standings"), shown, followed, follow);
  drawClock();
}

/** @param {HeatFrame} frame */
function drawCard(frame) {
  const lane = laneOf(frame, followed);
  const row = lane || followed === undefined ? undefined : Object.values(frame.ranking ?? {}).map(({ rows }) => rows[String(followed)]).find(Boolean);
  const nobody = followed === undefined ? say("public.touch") : say("public.followed_away");
  const who = lane ?? row;
  fitName(part(page, "card-name"), who?.name ?? nobody, who?.short ?? nobody);
  setAttr(part(page, "card"), "data-followed", followed !== undefined);
  const lines = cardLines(frame, lane, row);
  keyedChildren(part(page, "card-lines"), Object.keys(lines), createLine, (line, at) => {
    setText(part(line, "label"), lines[Number(at)][0]);
    setText(part(line, "value"), lines[Number(at)][1]);
  });
}

function createLine() {
  const [label, value] = [document.createElement("dt"), document.createElement("dd")];
  label.dataset.part = "label";
  value.dataset.part = "value";
  const line = make("card-line");
  line.append(label, value);
  return line;
}

function drawClock() {
  drawLink();
  if (shown) setText(part(page, "clock"), clockText(heatClockMs(shown.clock, shown.speed ?? 1, time.at(performance.now())) ?? 0));
}

function drawLink() {
  const still = shown !== undefined && performance.now() - movedMs > STILL_MS;
  const lost = failures > 0 || still;
  setAttr(part(page, "link"), "data-lost", lost);
  if (!shown) return setText(part(page, "link"), lost ? say("public.trying") : say("shared.connecting"));
  setText(part(page, "link"), lost ? say("public.last_picture", { time: dayClockText(newestMs, true) }) : say("shared.connected"));
}
