/** The home page of the crew: `/home/`, and with the table's key `/home/#key=…` for links and who is connected. */

import { refusalText } from "../shared/refusal.js";
import { asked } from "../shared/asked.js";
import { keyedChildren, part, setAttr, setText, stamp } from "../shared/dom.js";
import { heatText, inTime, lateMs, lateText, upcoming } from "../shared/day.js";
import { floorName } from "../shared/floor.js";
import { keyFrom } from "../shared/key.js";
import { say } from "../shared/say.js";
import { choices, dayTime, inOrder, labelText, stateText, titleText, wishes } from "./words.js";

/** @typedef {import("./words.js").Listed} Listed */
/** @typedef {{id: string, title: string, role: string, lane: number | null, floor: string, label: string, url: string, code: string, expires_ms: number, size: number, path: string}} Slip */
/** @typedef {{slips: Slip[], address: string, fingerprint: string | null}} Slips */

const LOOK_EVERY_MS = 3000;
/** The page is shown by then even if the server has not answered. */
const LATE_MS = 2000;
const OPEN_PAGES = [
  ["../board/", say("page.board")],
  ["../gaps/", say("page.gaps")],
  ["../call/", say("page.call")],
  ["../public/", say("page.public")],
  ["../practice/", say("page.practice")],
];
const root = document.body;
const key = keyFrom(location);
/** @type {Listed | undefined} */
let listed;

/**
 * Ask the server.
 *
 * @param {string} path
 * @param {object} [body] sent as JSON; missing: only asked for
 * @returns {Promise<{ok: boolean, nowMs: number, data: any}>}
 */
async function ask(path, body) {
  return (await asked(path, key, body)) ?? { ok: false, nowMs: Date.now(), data: { message: say("home.no_link") } };
}

async function look() {
  await Promise.all([lookAtHealth(), key && lookAtLinks()]);
}

async function lookAtHealth() {
  // Most halls have one floor: then nothing waits until it is known that there is no other.
  const only = askNext("");
  const { ok, data } = await ask("../health");
  if (ok) showHealth(data);
  else setText(part(root, "health"), say("crew.no_answer"));
  showDay(data.floors, await Promise.all(data.floors ? Object.keys(data.floors).map(askNext) : [only]));
}

/** @param {string} floor */
function askNext(floor) {
  return ask(`../snapshot/next?heat=${floorName(floor)}`);
}

/** @typedef {Record<string, {name: string}> | undefined} Floors of the server's health, only where there are several */

/**
 * @param {Floors} floors
 * @param {Awaited<ReturnType<typeof ask>>[]} nexts what is next on each
 */
function showDay(floors, nexts) {
  if (nexts.some(({ ok }) => !ok)) return;
  const days = nexts.map(({ data }) => /** @type {import("../shared/day.js").DayHeat[]} */ (data.frame.day ?? []));
  const lates = days.map((heats, index) => lateText(lateMs(heats, nexts[index].nowMs)));
  const names = Object.values(floors ?? {}).map(({ name }) => `${name} `);
  setText(part(root, "late"), lates.map((late, index) => late && `${names[index] ?? ""}${late}`).filter(Boolean).join(" · "));
  const next = new Map(inTime(days.map(upcoming)).map((heat) => [heat.id, heat]));
  keyedChildren(part(root, "next"), [...next.keys()], () => document.createElement("li"), (item, id) => {
    setText(item, heatText(/** @type {import("../shared/day.js").DayHeat} */ (next.get(id))));
  });
  setAttr(part(root, "day-part"), "hidden", next.size === 0);
}

/** @param {{competition: string, mode: string, outputs: string[], floors?: Floors, clients: number, journal: {lines: number}}} health */
function showHealth({ competition, mode, outputs, floors, clients, journal }) {
  setText(part(root, "competition"), competition);
  setText(part(root, "health"), say("home.up", { n: clients, facts: journal.lines }));
  setAttr(part(root, "rehearsal"), "hidden", mode !== "rehearsal");
  setAttr(part(root, "rehearsal-page"), "hidden", mode !== "rehearsal" || !key);
  setAttr(part(root, "rehearsal-link"), "href", `../rehearsal/#key=${key}`);
  const air = outputs.map((name) => [`../air/?output=${encodeURIComponent(name)}`, say("home.on_air", { output: name })]);
  const open = floors ? Object.entries(floors).flatMap(([id, { name }]) => OPEN_PAGES.map(([page, words]) => [`${page}?floor=${id}`, say("home.of_floor", { page: words, floor: name })])) : OPEN_PAGES;
  const pages = new Map(/** @type {[string, string][]} */ ([...open, ...air]));
  keyedChildren(part(root, "pages"), [...pages.keys()], makePage, (item, address) => {
    setText(/** @type {HTMLElement} */ (item.firstElementChild), pages.get(address) ?? "");
  });
}

/** @param {string} address */
function makePage(address) {
  const [item, link] = [document.createElement("li"), document.createElement("a")];
  link.href = address;
  item.append(link);
  return item;
}

async function lookAtLinks() {
  const { ok, data } = await ask("../links");
  if (!ok) return setText(part(root, "links-said"), refusalText(data));
  const first = !listed;
  listed = /** @type {Listed} */ (data);
  setAttr(part(root, "links-part"), "hidden", false);
  setAttr(part(root, "table-link"), "href", `../table/#key=${key}`);
  setAttr(part(root, "audit-link"), "href", `../audit/#key=${key}`);
  setAttr(part(root, "inside-link"), "href", `../inside/#key=${key}`);
  setAttr(part(root, "make-link"), "href", `../make/#key=${key}`);
  setAttr(part(root, "table-page"), "hidden", false);
  if (first) offer(listed);
  const links = new Map(inOrder(listed.links).map((link) => [link.id, link]));
  keyedChildren(part(root, "links"), [...links.keys()], makeLink, (item, id) => {
    const link = /** @type {import("./words.js").LinkRow} */ (links.get(id));
    const title = titleText({ ...link, floor: link.floor_name ?? link.floor });
    setText(part(item, "link-title"), title);
    setText(part(item, "link-label"), labelText(link));
    setText(part(item, "link-state"), stateText(link, Date.now()));
    setAttr(item, "data-ended", String(link.ended));
    const named = `${title} ${labelText(link)}`;
    setAttr(part(item, "renew"), "aria-label", say("home.renew_link", { link: named }));
    setAttr(part(item, "revoke"), "aria-label", say("home.take_back_link", { link: named }));
    for (const name of ["renew", "revoke"]) setAttr(part(item, name), "hidden", link.ended);
  });
}

/** @param {Listed} known */
function offer({ addresses, ...known }) {
  part(root, "make-role").replaceChildren(...choices(known).map(([value, text]) => new Option(text, value)));
  const own = [...addresses, location.origin].filter((each, index, all) => all.indexOf(each) === index);
  part(root, "make-address").replaceChildren(...own.map((each) => new Option(each)));
}

/** @param {string} id */
function makeLink(id) {
  const made = stamp(root, "link-template");
  part(made, "renew").addEventListener("click", () => change(`../links/${id}/renew`));
  part(made, "revoke").addEventListener("click", () => change(`../links/${id}/revoke`));
  return made;
}

/**
 * Do something to the links, and show the slips that come of it.
 *
 * @param {string} path
 * @param {object} [more]
 */
async function change(path, more = {}) {
  const address = /** @type {HTMLSelectElement} */ (part(root, "make-address")).value;
  const { ok, data } = await ask(path, path.endsWith("/revoke") ? {} : { address, ...more });
  setText(part(root, "links-said"), ok ? "" : refusalText(data));
  if (ok && data.slips) showSlips(data);
  await lookAtLinks();
}

/** @param {Slips} made */
function showSlips({ slips, address, fingerprint }) {
  const proof = part(root, "fingerprint");
  setText(proof, fingerprint ? say("home.certificate", { fingerprint }) : "");
  setAttr(proof, "hidden", !fingerprint);
  part(root, "slips").replaceChildren(...slips.map((slip) => makeSlip(slip, address, fingerprint)));
  setAttr(part(root, "slips-part"), "hidden", false);
  part(root, "print").focus();
}

/**
 * @param {Slip} slip
 * @param {string} address
 * @param {string | null} fingerprint
 */
function makeSlip({ id, label, code, expires_ms, size, path, ...opens }, address, fingerprint) {
  const made = stamp(root, "slip-template");
  const picture = /** @type {SVGElement} */ (made.querySelector("svg"));
  picture.setAttribute("viewBox", `0 0 ${size} ${size}`);
  picture.querySelector("path")?.setAttribute("d", path);
  const proof = fingerprint ? ` ${say("home.slip_certificate", { fingerprint })}` : "";
  setText(part(made, "slip-title"), titleText(opens));
  setText(part(made, "slip-label"), label);
  setText(part(made, "slip-code"), code);
  setText(part(made, "slip-note"), say("home.slip_note", { address, time: dayTime(expires_ms), link: id }) + proof);
  return made;
}

part(root, "code-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  const { value } = /** @type {HTMLInputElement} */ (part(root, "code"));
  const { ok, data } = await ask("../links/code", { code: value });
  if (ok) location.assign(`../${data.path}#key=${data.key}`);
  else setText(part(root, "code-said"), refusalText(data));
});
part(root, "make-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  const asked = new FormData(/** @type {HTMLFormElement} */ (event.target));
  const more = { label: String(asked.get("label")), days: Number(asked.get("days")) };
  await change("../links", { links: wishes(String(asked.get("role")), listed ?? { lanes: [] }, more) });
});
part(root, "print").addEventListener("click", () => print());
part(root, "done").addEventListener("click", () => {
  part(root, "slips").replaceChildren();
  setAttr(part(root, "slips-part"), "hidden", true);
});
const shown = () => setAttr(part(root, "home"), "data-waits", false);
look().then(() => document.fonts.ready).then(shown);
setTimeout(shown, LATE_MS);
setInterval(look, LOOK_EVERY_MS);
