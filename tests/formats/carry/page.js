/** The page module of the format of the tests: the pad says in which lap the lane is, and a press is a metre. */

import { makeFormat, ownField } from "../../../overlay/formats/plain.js";

const lapOf = (event) => ownField(event, "carry").lap_metres;
const lapsText = (laps) => `${laps} ${laps === 1 ? "lap" : "laps"}`;

export const CARRY = makeFormat({
  title: "Carry",
  pad: {
    fields: ["laps"],
    worked(event, count, _, change) {
      const done = change(count.done);
      return { ...count, done, laps: Math.floor(done / lapOf(event)) };
    },
    where: ({ count, event }) => `lap ${Math.floor(count.done / lapOf(event)) + 1}`,
    surface: () => ({ surface: "metre", ask: "Press for every metre", noRep: false, finish: false }),
    press: (_, surface) => (surface === "metre" ? { fact: "rep_counted", n: 1 } : undefined),
    proof: (_, { laps }) => lapsText(laps),
    choices: () => ["the lap"],
    choose: ({ event, count }) => ({ units: lapOf(event) - (count.done % lapOf(event)) }),
    noRepWord: "Dropped",
  },
  call: { end: "carried", meaning: () => "back to the rack" },
  gaps: { meaning: () => "back to the rack" },
  air: { apart: (_, gap) => `${gap} metres` },
  table: { own: () => "carried" },
});
