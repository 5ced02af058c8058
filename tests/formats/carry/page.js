/** The page module of the format of the tests: the pad says in which lap the lane is, and a press is a metre. */

import { makeFormat } from "../../../overlay/formats/plain.js";

export const CARRY = makeFormat({
  title: "Carry",
  pad: {
    where: ({ count, event }) => `lap ${Math.floor(count.done / event.carry.lap_metres) + 1}`,
    surface: () => ({ surface: "metre", ask: "Press for every metre", noRep: false, finish: false }),
    press: (_, surface) => (surface === "metre" ? { fact: "rep_counted", n: 1 } : undefined),
  },
});
