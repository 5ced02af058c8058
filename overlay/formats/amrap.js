/** As much work as possible until the time is up: nobody finishes, so no finish is called. */

import { makeFormat } from "./plain.js";

export const AMRAP = makeFormat({ title: "As much as possible", table: { without: ["finish"], atHand: ["correct", "penalty"] } });
