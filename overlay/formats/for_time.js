/** One fixed piece of work, raced for time. */

import { say } from "../shared/say.js";
import { makeFormat } from "./plain.js";

export const FOR_TIME = makeFormat({ title: say("for_time.title"), call: { end: say("plain.finish") } });
