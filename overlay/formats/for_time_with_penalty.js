/** One fixed piece of work, raced for time, with seconds for what is missing at the cap: the pages say the same of it. */

export { FOR_TIME as FOR_TIME_WITH_PENALTY } from "./for_time.js";
