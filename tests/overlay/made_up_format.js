/** A small format that nobody uses: loads are carried, each is held for, and a key beside the surface counts two at once. */

import { makeFormat } from "../../overlay/formats/plain.js";

export const CARRIES = makeFormat({
  title: "Carries",
  pad: {
    where: ({ count }) => `carry ${count.done + 1}`,
    surface: () => ({ surface: "carry", ask: "Hold when the carry is done", noRep: true, finish: false }),
    press: (_, surface) => (surface === "carry" ? { fact: "rep_counted", n: 1 } : undefined),
    choices: () => ["two at once"],
    choose: () => ({ units: 2 }),
    noRepWord: "Dropped",
  },
  call: { end: "carried", meaning: () => "back to the rack" },
  gaps: { meaning: () => "back to the rack" },
  air: { apart: (_, gap) => `${gap} carries` },
  table: { own: () => "carried" },
});
