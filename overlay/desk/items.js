/**
 * What can be taken: a view and whom it is about, in words, and why it would be refused. Pure.
 *
 * @typedef {import("../shared/types.js").Item} Item
 * @typedef {import("../shared/types.js").ShowFrame} ShowFrame
 * @typedef {import("../shared/types.js").SubjectsFrame} SubjectsFrame
 * @typedef {import("../shared/types.js").HeatFrame} HeatFrame
 * @typedef {{title: string, least: number, most: number}} ViewData
 */

import { lackText } from "../shared/refusal.js";
import { briefOf } from "../booth/notes.js";
import { isolate } from "../shared/format.js";
import { listText, say } from "../shared/say.js";

const FOLLOWS = /** @type {Record<string, string>} */ ({
  leader: say("desk.leader"),
  fastest: say("desk.fastest"),
  finisher: say("desk.finisher"),
});
const NOBODY = /** @type {Record<string, string>} */ ({
  leader: say("desk.nobody_leads"),
  fastest: say("desk.nobody_fastest"),
  finisher: say("desk.nobody_in"),
});

/**
 * Who a subject is, in words.
 *
 * @param {string} subject
 * @returns {string}
 */
export function subjectText(subject) {
  const [name, division] = subject.split("@");
  const [kind, value] = name.split(":");
  const who = whoText(kind, value);
  return division ? say("desk.of_division", { who, division }) : who;
}

/**
 * @param {string} kind
 * @param {string | undefined} value
 */
function whoText(kind, value) {
  if (value === undefined) return FOLLOWS[kind] ?? kind;
  if (kind === "battle") return say("desk.battle", { place: value });
  if (kind === "lane") return say("desk.lane", { lane: value });
  if (kind === "place") return say("desk.place", { place: value });
  return kind === "entry" ? say("desk.entry", { entry: value }) : `${kind} ${value}`;
}

/**
 * The title of a view: in the language of the page where the catalogue knows it, as it came where a show brought it.
 *
 * @param {string} view
 * @param {ShowFrame} show
 */
export function titleOf(view, show) {
  const title = say(`view.${view}`);
  return title === `view.${view}` ? (show.views[view]?.title ?? view) : title;
}

/**
 * What an item shows, in words.
 *
 * @param {Item} item
 * @param {ShowFrame} show
 */
export function itemText(item, show) {
  const title = titleOf(item.view, show);
  const who = item.params.who && listText(item.params.who.split(",").map(subjectText));
  const heat = item.params.heat && show.heats[item.params.heat]?.name;
  const score = item.params.part && (show.parts[item.params.part] ?? item.params.part);
  return [title, score, who, heat].filter(Boolean).join(" · ");
}

/**
 * The names of the athletes an item is about just now.
 *
 * @param {Item} item
 * @param {SubjectsFrame | undefined} subjects
 * @param {HeatFrame | undefined} frame
 */
export function namesText(item, subjects, frame) {
  const lanes = lanesOf(item, subjects);
  return lanes.map((lane) => frame?.lanes[lane]).map((lane) => (lane ? isolate(lane.name) : "")).filter(Boolean).join(", ");
}

/** The view that introduces the lanes: about everybody unless it names one. */
const LINEUP = "lineup";

/**
 * What the operator may want to know of those whom an item is about, one line each: how the name is said, what the file
 * tells, and what not to mention. It is for the desk's eyes alone.
 *
 * @param {Item} item
 * @param {SubjectsFrame | undefined} subjects
 * @param {import("../booth/types.js").BoothFrame | undefined} booth
 * @returns {{text: string, caution: string}[]}
 */
export function introductions(item, subjects, booth) {
  if (!booth || booth.heat.id !== (item.params.heat ?? subjects?.heat.id)) return [];
  const everybody = item.view === LINEUP && item.params.who === undefined;
  const numbers = everybody ? Object.keys(booth.lanes) : lanesOf(item, subjects);
  const lanes = numbers.map((lane) => booth.lanes[Number(lane)]).filter((lane) => lane !== undefined);
  return lanes.map(introduction).filter(({ text, caution }) => text || caution);
}

/** @param {import("../booth/types.js").BoothLane} lane */
function introduction(lane) {
  const said = [...briefOf(lane).map(([label, text]) => `${label.toLowerCase()} ${text}`), ...(lane.facts ?? []).map(({ text }) => text)];
  const caution = lane.caution ? say("desk.do_not_mention", { what: lane.caution }) : "";
  return { text: said.length || caution ? `${lane.lane} ${isolate(lane.short)}: ${said.join(" · ")}` : "", caution };
}

/**
 * Why an item would be refused now, as the server would say it; undefined when it may be taken, or when it is about a
 * heat this page does not see: then the server has the last word.
 *
 * @param {Item} item
 * @param {ShowFrame} show
 * @param {SubjectsFrame | undefined} subjects of the heat on the floor
 * @returns {string | undefined}
 */
export function refusal(item, show, subjects) {
  const view = show.views[item.view];
  if (!view) return say("desk.no_view", { view: item.view });
  if (!subjects) return say("desk.no_numbers");
  if (item.params.heat !== undefined && item.params.heat !== subjects.heat.id) return undefined;
  const score = item.params.part;
  if (score !== undefined && !subjects.parts.includes(score)) return say("desk.no_score", { score });
  const missing = subjects.missing[item.view] ?? {};
  if (missing.heat || item.params.who === undefined) return missing.heat && lackText(missing.heat);
  const nobody = item.params.who.split(",").find((subject) => !subjects.subjects[subject]);
  if (nobody !== undefined) return nobodyText(nobody, subjects);
  const lanes = lanesOf(item, subjects);
  if (lanes.length < view.least) return say("desk.too_few", { count: lanes.length, least: view.least });
  const lacking = lanes.map((lane) => missing[lane]).find(Boolean);
  return lacking && lackText(lacking);
}

/**
 * What may be chosen: every view, the event's result once more for each of several scores.
 *
 * @param {ShowFrame} show
 * @param {SubjectsFrame | undefined} subjects
 * @returns {Item[]} as they begin
 */
export function choices(show, subjects) {
  return Object.entries(show.views).flatMap(([name, view]) => {
    const fresh = freshItem(name, view);
    const scores = name === "event" ? (subjects?.parts ?? []) : [];
    return [fresh, ...scores.slice(1).map((part) => ({ ...fresh, params: { ...fresh.params, part } }))];
  });
}

/**
 * An item of a view as it begins, before anybody is picked.
 *
 * @param {string} name
 * @param {ViewData} view
 * @returns {Item}
 */
export function freshItem(name, { least, most }) {
  if (!least) return { view: name, params: {} };
  const who = name === "finish" ? "finisher" : least === 2 ? "battle:1" : most === 1 ? "leader" : "leader,place:2";
  return { view: name, params: { who } };
}

/**
 * The item about somebody else. With room for several a subject is added, or taken out if it is there; when it gets too
 * many, the one picked first goes.
 *
 * @param {Item} item
 * @param {string} subject
 * @param {ViewData} view
 * @returns {Item}
 */
export function pickSubject(item, subject, { least, most }) {
  if (!most) return item;
  const before = item.params.who?.split(",") ?? [];
  const without = before.filter((each) => each !== subject);
  let after = without.length < before.length && size(without) >= least ? without : [...without, subject];
  while (after.length > 1 && size(after) > most) after = after.slice(1);
  const { who: _, ...rest } = item.params;
  return { ...item, params: after.length ? { ...rest, who: after.join(",") } : rest, name: "" };
}

/** @param {string[]} subjects */
function size(subjects) {
  return subjects.reduce((sum, subject) => sum + (subject.startsWith("battle") ? 2 : 1), 0);
}

/**
 * @param {Item} item
 * @param {SubjectsFrame | undefined} subjects
 */
function lanesOf(item, subjects) {
  return [...new Set(item.params.who?.split(",").flatMap((subject) => subjects?.subjects[subject] ?? []) ?? [])];
}

/**
 * @param {string} subject
 * @param {SubjectsFrame} subjects
 */
function nobodyText(subject, { held }) {
  const [kind, value] = subject.split(":");
  if (kind === "lane" && held.includes(Number(value))) return say("desk.lane_held", { lane: value });
  if (kind === "lane" || kind === "entry") return say("desk.not_in_heat", { who: subjectText(subject) });
  return NOBODY[kind === "finisher" ? kind : subject] ?? say("desk.nobody_is", { who: subjectText(subject) });
}
