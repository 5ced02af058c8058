/** As much work as possible until the time is up: nobody finishes, so no finish is called. */

import { say } from "../shared/say.js";
import { makeFormat } from "./plain.js";

export const AMRAP = makeFormat({ title: say("amrap.title"), table: { without: ["finish"], atHand: ["correct", "penalty"] } });
