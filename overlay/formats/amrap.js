/** As much work as possible until the time is up. */

import { makeFormat } from "./plain.js";

export const AMRAP = makeFormat({ title: "As much as possible" });
