/** How the server runs, and what is wrong in words: `/inside/#key=…` with the key of the table or of the server's own machine. */

import { asked } from "../shared/asked.js";
import { keyedChildren, part, setAttr, setText, stamp } from "../shared/dom.js";
import { keyFrom } from "../shared/socket.js";
import { groupsOf } from "./figures.js";

const LOOK_EVERY_MS = 1000;
const root = document.body;
const key = keyFrom(location);

async function look() {
  const answer = await asked("../figures", key);
  if (!answer) lose();
  else if (answer.ok) show(answer.data);
  else setText(part(root, "said"), answer.status === 401 ? "Open this page from the scoring table's home page: its link has the key." : answer.data.message);
}

/** The figures are those of before: they must not look like news. */
function lose() {
  setText(part(root, "said"), "The server does not answer. It is asked again. These are its last figures.");
  showWrong(["The server does not answer: see whether it runs, and whether this device is on its network."]);
}

/** @param {import("./figures.js").Figures} figures */
function show(figures) {
  setAttr(part(root, "rehearsal"), "hidden", figures.mode !== "rehearsal");
  setText(part(root, "said"), `${figures.competition}, ${figures.mode}`);
  showWrong(figures.wrong);
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
  const said = wrong.length ? wrong : ["Nothing that the server knows of."];
  keyedChildren(part(root, "wrong"), said, () => document.createElement("li"), (item, words) => {
    setText(item, words);
    setAttr(item, "data-bad", String(wrong.length > 0));
  });
}

part(root, "home").setAttribute("href", key ? `../home/#key=${key}` : "../home/");
look();
setInterval(look, LOOK_EVERY_MS);
