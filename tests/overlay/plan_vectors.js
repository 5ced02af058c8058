/** Reads [{event, dones}] from standard input and writes what plan.js makes of them: for test_plan_agrees.py. */
import { readFileSync } from "node:fs";
import * as plan from "../../overlay/shared/plan.js";

const cases = JSON.parse(readFileSync(0, "utf8"));
const answers = cases.map(({ event, dones }) => ({
  at: dones.map((asked) => {
    const done = plan.clampDone(event, asked);
    const { leg, round, station_done, scored, next_mark, round_mark } = plan.position(event, done);
    const numbers = [done, leg.round, leg.station, round, station_done, scored, next_mark, round_mark];
    return [...numbers, plan.blockEnd(event, done) ?? null, plan.scored(event, done)];
  }),
}));
process.stdout.write(JSON.stringify(answers));
