/** A pad that sees the frame it is given, is pressed once, and says what it showed and what it wants to send. */

import { readFileSync } from "node:fs";
import { FORMATS } from "../../../overlay/formats/registry.js";
import { reduce } from "../../../overlay/pad/reducer.js";
import { openPad, viewAt } from "../../../overlay/pad/state.js";
import { memoryStorage } from "../../../overlay/shared/queue.js";
import { CARRY } from "./page.js";

FORMATS.set("carry", CARRY);
const { frame, instant } = JSON.parse(readFileSync(0, "utf-8"));
const seen = reduce(openPad({ lane: 1, storage: memoryStorage() }, instant), { type: "frame", frame }, instant).state;
const began = { surface: "metre", atMs: instant.nowMs, serverMs: instant.serverMs };
const pressed = reduce(seen, { type: "pressed", began }, instant).state;
const { round, ask } = viewAt(seen, instant);
console.log(JSON.stringify({ where: round, ask, done: pressed.book.count.done, sent: pressed.outbox.queue.waiting }));
