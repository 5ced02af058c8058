/** One fixed piece of work, raced for time. */

import { makeFormat } from "./plain.js";

export const FOR_TIME = makeFormat({ title: "For time", call: { end: "finish" } });
