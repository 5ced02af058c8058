/** Writes one fact of every action of the table, as it goes on the wire: for test_table_facts.py. */
import { draftOf, HEAT_ACTIONS, LANE_ACTIONS, readFields } from "../../overlay/table/actions.js";
import { FORMATS } from "../../overlay/formats/registry.js";
import { frameOf } from "./events.js";

const frame = { ...frameOf({ 4: { done: 7 } }), start_id: "s1", result: { stage: "provisional", digest: "0123456789abcdef", unchecked: [], changed: false } };
const now = { frame, clockMs: 65_000, unixMs: 1_800_000_000_000.4 };
const filled = { number: "3", time: "1:04.5", load: "82.5", text: "because" };

const facts = [
  ...Object.values(HEAT_ACTIONS).map((action) => [action, now]),
  ...[LANE_ACTIONS, ...[...FORMATS.values()].map(({ table }) => table.actions)].flatMap(Object.values).map((action) => [action, { ...now, lane: frame.lanes[4] }]),
].map(([action, context], index) => {
  // A start says when the signal was or when it will be, not both.
  const texts = Object.fromEntries(action.fields.map((field) => [field.name, field.name === "ahead" ? "0" : filled[field.kind]]));
  const draft = draftOf(action, readFields(action, texts).values, context, `f${index}`);
  return { ...draft, sender: "table-a", sequence: index + 1 };
});
process.stdout.write(JSON.stringify(facts));
