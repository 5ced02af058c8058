/** The story of a heat: `/audit/?heat=ID#key=…` with the key of the table or of the head judge; without `heat` the one on the floor. */

import { refusalText } from "../shared/refusal.js";
import { asked } from "../shared/asked.js";
import { keyedChildren, part, setAttr, setText, stamp } from "../shared/dom.js";
import { keyFrom } from "../shared/key.js";
import { figures, say } from "../shared/say.js";

/**
 * @typedef {{unix_ms: number, clock: string, who: string, what: string, device: string}} Sentence
 * @typedef {{mode: string, heat: string, title: string, heats: {id: string, title: string}[], sentences: Sentence[]}} Story
 */

const LOOK_EVERY_MS = 5000;
const root = document.body;
const key = keyFrom(location);
const heats = /** @type {HTMLSelectElement} */ (part(root, "heats"));
let chosen = new URLSearchParams(location.search).get("heat") ?? "";

async function look() {
  const heat = chosen;
  const wish = new URLSearchParams({ lang: document.documentElement.lang, ...(heat && { heat }) });
  const answer = await asked(`../story?${wish}`, key);
  if (!answer) return setText(part(root, "said"), say("crew.no_answer"));
  if (heat !== chosen) return;
  if (answer.ok) show(answer.data);
  else setText(part(root, "said"), answer.status === 401 ? say("crew.no_key") : refusalText(answer.data));
}

/** @param {Story} story */
function show({ mode, heat, title, heats: all, sentences }) {
  setAttr(part(root, "rehearsal"), "hidden", mode !== "rehearsal");
  chosen = heat;
  const titles = new Map(all.map((each) => [each.id, each.title]));
  keyedChildren(heats, [...titles.keys()], makeOption, (option, id) => setText(option, titles.get(id) ?? id));
  heats.value = heat;
  setText(part(root, "said"), sentences.length ? say("audit.happened", { title, n: sentences.length }) : say("audit.nothing", { title }));
  const lines = new Map(sentences.map((sentence, index) => [String(index), sentence]));
  keyedChildren(part(root, "story"), [...lines.keys()], () => stamp(root, "line-template"), (line, index) => {
    const { unix_ms, clock, who, what, device } = /** @type {Sentence} */ (lines.get(index));
    const wall = new Date(unix_ms);
    setText(part(line, "wall"), wall.toLocaleTimeString("en-GB"));
    part(line, "wall").setAttribute("datetime", wall.toISOString());
    setText(part(line, "clock"), figures(clock));
    setText(part(line, "who"), who);
    setText(part(line, "what"), what + say("audit.stop"));
    setText(part(line, "device"), device);
  });
}

/** @param {string} id */
function makeOption(id) {
  const option = document.createElement("option");
  option.value = id;
  return option;
}

heats.addEventListener("change", () => {
  chosen = heats.value;
  const address = new URL(location.href);
  address.searchParams.set("heat", chosen);
  window.history.replaceState(null, "", address); // a reload stays with the heat; the key stays in the fragment
  look();
});
part(root, "print").addEventListener("click", () => print());
part(root, "home").setAttribute("href", key ? `../home/#key=${key}` : "../home/");
look();
setInterval(look, LOOK_EVERY_MS);
