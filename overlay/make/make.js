/**
 * The competition maker: `/make/#key=…` with the key of the table. What is typed is checked by the server as it is typed,
 * kept on this device until it is saved, and written into the competition file.
 */

import { refusalText } from "../shared/refusal.js";
import { asked } from "../shared/asked.js";
import { deviceStorage } from "../shared/device.js";
import { keyedChildren, part, setAttr, setText } from "../shared/dom.js";
import { keyFrom } from "../shared/key.js";
import { languageCode, say } from "../shared/say.js";
import { openMaker, reduce } from "./reducer.js";
import { Screen } from "./screen.js";

const CHECK_AFTER_MS = 350;
const TRY_EVERY_MS = 1000;
const SHOWN = /** @type {const} */ ([
  ["air/?view=heat&ground", say("make.page.air"), ""],
  ["rehearsal/", say("make.page.rehearsal"), "table"],
  ["desk/", say("page.desk"), "desk"],
  ["board/", say("page.board"), ""],
  ["table/", say("page.table"), "table"],
]);
const root = document.body;
const key = keyFrom(location);
const storage = deviceStorage();
let state = openMaker();
const screen = new Screen(root, dispatch, state);
let timer = 0;

/** @param {import("./reducer.js").MakeEvent} event */
function dispatch(event) {
  const { state: after, effects } = reduce(state, event);
  state = after;
  for (const effect of effects) {
    if (effect.do === "keep") keep(effect);
    else {
      clearTimeout(timer);
      timer = setTimeout(() => check(effect), CHECK_AFTER_MS);
    }
  }
  screen.draw(state);
}

/** @param {{turn: number, data: object}} effect */
async function check({ turn, data }) {
  const answer = await ask("check", { data });
  if (turn !== state.turn) return;
  if (answer?.ok) dispatch({ type: "checked", turn, problems: answer.data.problems });
  else timer = setTimeout(() => check({ turn, data }), TRY_EVERY_MS);
}

/**
 * Ask the server to do something, and say it if it does not.
 *
 * @param {string} what
 * @param {object} [body]
 */
async function ask(what, body) {
  const answer = await asked(`${what}?lang=${languageCode}`, key, body);
  if (!answer) dispatch({ type: "say", text: say("make.no_answer"), wrong: true });
  else if (!answer.ok) dispatch({ type: "say", text: answer.status === 401 ? say("make.no_key") : whyText(answer.data), wrong: true, problems: answer.data.problems });
  return answer;
}

/** @param {import("../shared/refusal.js").Told & {problems?: unknown[]}} refused */
function whyText({ problems, ...told }) {
  return problems ? say("make.to_right", { n: problems.length }) : refusalText(told).split("\n")[0];
}

/** @param {{version: string, data: object | undefined}} draft */
function keep({ version, data }) {
  try {
    if (data) storage.setItem(keptAs(), JSON.stringify({ version, data }));
    else storage.removeItem(keptAs());
  } catch {
    // It stands on the page until the page is closed.
  }
}

function keptAs() {
  return `tallywire.make.${state.file?.name}`;
}

/** @param {import("./reducer.js").File} file */
function keptDraft(file) {
  try {
    const kept = JSON.parse(storage.getItem(`tallywire.make.${file.name}`) ?? "{}");
    return kept.version === file.version ? kept.data : undefined;
  } catch {
    return undefined;
  }
}

async function open() {
  const answer = await ask("file");
  setAttr(part(root, "maker"), "data-waits", false);
  if (answer?.ok) dispatch({ type: "told", file: answer.data, draft: keptDraft(answer.data) });
  else if (!answer) setTimeout(open, TRY_EVERY_MS);
  else setText(part(root, "said"), state.said);
}

part(root, "save").onclick = async () => {
  const answer = await ask("save", { data: state.data, version: state.file?.version });
  if (!answer?.ok) return;
  dispatch({ type: "saved", file: answer.data });
};

part(root, "deal").addEventListener("submit", async (event) => {
  event.preventDefault();
  const chosen = new FormData(/** @type {HTMLFormElement} */ (event.target));
  const lanes = Array.from({ length: Number(chosen.get("lanes")) }, (_, index) => index + 1);
  const heats = [];
  for (const { id } of state.data.division ?? []) {
    const order = (state.data.entry ?? []).filter((/** @type {any} */ { division }) => division === id).map((/** @type {any} */ each) => each.id);
    const answer = order.length ? await ask("deal", { order: chosen.get("best") === "last" ? order.reverse() : order, lanes }) : undefined;
    if (answer && !answer.ok) return;
    heats.push(...(answer?.data.heats ?? []).map((/** @type {Record<string, string>} */ each) => ({ division: id, lanes: each })));
  }
  dispatch({ type: "dealt", event: String(chosen.get("event")), heats });
});

part(root, "rehearse").onclick = async () => {
  dispatch({ type: "say", text: say("make.rehearsing") });
  const answer = await ask("rehearse", {});
  if (!answer?.ok) return;
  dispatch({ type: "show", show: answer.data });
  showPages(answer.data);
};

/** @param {{port: number, table: string, desk: string}} show */
function showPages(show) {
  const base = `${location.protocol}//${location.hostname}:${show.port}/`;
  const make = (/** @type {string} */ page) => {
    const [item, link] = [document.createElement("li"), document.createElement("a")];
    link.target = "_blank";
    link.rel = "noopener";
    item.append(link);
    setText(link, SHOWN.find(([each]) => each === page)?.[1] ?? "");
    return item;
  };
  keyedChildren(part(root, "pages"), SHOWN.map(([page]) => page), make, (item, page) => {
    const whose = SHOWN.find(([each]) => each === page)?.[2];
    setAttr(/** @type {HTMLElement} */ (item.firstElementChild), "href", base + page + (whose ? `#key=${show[whose]}` : ""));
  });
  setAttr(part(root, "show"), "hidden", false);
  part(root, "pages").querySelector("a")?.focus();
}

part(root, "run").onclick = async () => {
  dispatch({ type: "say", text: say("make.starting") });
  const answer = await ask("run", {});
  if (answer?.ok) setTimeout(goHome, TRY_EVERY_MS);
};

/** Go to the home page of what runs, once it does. */
async function goHome() {
  const answer = await asked("../health", undefined);
  if (answer?.ok && answer.data.mode === "live") location.assign(`../home/#key=${key}`);
  else setTimeout(goHome, TRY_EVERY_MS);
}

setAttr(part(root, "home"), "href", key ? `../home/#key=${key}` : "../home/");
void open();
