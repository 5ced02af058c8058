/** How the server runs, and what is wrong in words: `/inside/#key=…` with the key of the table or of the server's own machine. */

import { asked } from "../shared/asked.js";
import { keyedChildren, part, setAttr, setText, stamp } from "../shared/dom.js";
import { refusalText } from "../shared/refusal.js";
import { keyFrom } from "../shared/key.js";
import { say } from "../shared/say.js";
import { groupsOf } from "./figures.js";

const LOOK_EVERY_MS = 1000;
const root = document.body;
const key = keyFrom(location);

async function look() {
  const answer = await asked("../figures", key);
  if (!answer) lose();
  else if (answer.ok) show(answer.data);
  else setText(part(root, "said"), answer.status === 401 ? say("crew.no_key") : refusalText(answer.data));
}

/** The figures are those of before: they must not look like news. */
function lose() {
  setText(part(root, "said"), say("inside.last_figures"));
  showWrong([say("inside.no_answer")]);
}

/** @param {import("./figures.js").Figures} figures */
function show(figures) {
  setAttr(part(root, "rehearsal"), "hidden", figures.mode !== "rehearsal");
  setText(part(root, "said"), say("inside.said", { competition: figures.competition, mode: say(`inside.mode.${figures.mode}`) }));
  showWrong(figures.wrong.map((message, at) => refusalText({ message, reason: figures.wrong_reasons?.[at] })));
  const groups = groupsOf(figures);
  keyedChildren(part(root, "groups"), [...groups.keys()], () => stamp(root, "group-template"), (group, title) => {
    setText(part(group, "title"), title);
    const rows = new Map(groups.get(title));
    keyedChildren(part(group, "rows"), [...rows.keys()], () => stamp(root, "row-template"), (row, name) => {
      setText(part(row, "name"), name);
      setText(part(row, "value"), rows.get(name) ?? "");
    });
  });
}

/** @param {string[]} wrong */
function showWrong(wrong) {
  const said = wrong.length ? wrong : [say("inside.nothing_wrong")];
  keyedChildren(part(root, "wrong"), said, () => document.createElement("li"), (item, words) => {
    setText(item, words);
    setAttr(item, "data-bad", String(wrong.length > 0));
  });
}

part(root, "home").setAttribute("href", key ? `../home/#key=${key}` : "../home/");
look();
setInterval(look, LOOK_EVERY_MS);
