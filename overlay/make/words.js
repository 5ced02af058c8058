/** The words of the competition maker. */

/** @type {Record<string, string>} */
const LABELS = {
  name: "Name",
  id: "Id, never on the air",
  short: "Short name",
  division: "Division",
  home: "Gym, club or town",
  points_before: "Points so far",
  age_class: "Age class",
  say: "How it is said",
  ipa: "In IPA",
  time_decimals: "Decimals of a time",
  time_rounding: "Times are rounded",
  format: "Format",
  time_cap: "Time cap",
  rounds: "Rounds",
  movement: "Movement",
  amount: "How many",
  unit: "Unit",
  credit: "Scored",
  expected_seconds: "Seconds it takes",
  touch_guard_ms: "Double touch within ms",
  minimum_reps: "Fewest scored reps for points",
  points: "Points table",
  ties: "Who ties",
  round: "Tie-break: end of round",
  station: "Tie-break: station",
  form: "Team",
  members: "On a lane",
  first: "First place",
  step: "Each next place less",
  places: "Or place by place",
  least: "No result earns less",
  order: "Wins with",
  drop_worst: "Worst scores dropped",
  event: "Event",
  start: "Starts at",
  floor: "Floor",
  seeded_later: "Lanes come later",
  size: "Size",
  delay_seconds: "Seconds late",
  hold_seconds: "Holds its picture, seconds",
  timecode: "Timecode",
};
/** How choices are called; others as they are written in the file, with spaces. @type {Record<string, string>} */
const CHOICES = {
  unit: "one for each",
  block: "one for all",
  most: "the most points",
  fewest: "the fewest points",
  share_better: "share the better place",
  mean: "share the mean",
};
/** @type {Record<string, string>} */
export const EXAMPLES = { time_cap: "10:00", places: "100, 95, 90", start: "2027-06-05T14:05:00+02:00", size: "1920x1080" };
/** @type {Record<string, string>} */
export const ADDS = {
  division: "Add a division",
  entry: "Add an entry",
  event: "Add an event",
  station: "Add a movement",
  points: "Add a points table",
  heat: "Add a heat",
  output: "Add a picture",
};
/** What one of a list is called. @type {Record<string, string>} */
export const ITEMS = {
  division: "Division",
  entry: "Entry",
  event: "Event",
  station: "Movement",
  points: "Points table",
  heat: "Heat",
  output: "Picture",
};
export const LOADS = "Load, ";
export const LANE = "Lane ";
export const SAVED = "Saved. Now rehearse it, or run it.";
export const NO_ANSWER = "The server does not answer. What you type is kept here; it is asked again.";
export const NO_KEY = "Open this page with the link that the server printed: it has the key.";
export const UNDONE = "Taken back.";
export const REHEARSING = "Heats are made up and a rehearsal begins …";
export const STARTING = "The server starts with this file …";

/**
 * @param {string} field
 * @returns {string}
 */
export function labelOf(field) {
  return LABELS[field] ?? choiceText(field);
}

/** @param {string} value */
export function choiceText(value) {
  const text = CHOICES[value] ?? value.replaceAll("_", " ");
  return text.slice(0, 1).toUpperCase() + text.slice(1);
}

/** @param {{found: string, expected: string}} problem */
export function problemText({ found, expected }) {
  const wanted = expected.replace(/^a value: this field is required$/, "");
  if (found === "nothing") return wanted ? `Still to be filled in: ${wanted}` : "Still to be filled in";
  return found === "list" ? `Needed: ${expected}` : `Found ${found}, expected ${expected}`;
}

/**
 * @param {number} problems
 * @param {boolean} checked the server has seen what stands here
 * @param {boolean} dirty something is not saved
 */
export function stateText(problems, checked, dirty) {
  if (!checked) return "Checking …";
  if (problems) return problems === 1 ? "1 thing to put right" : `${problems} things to put right`;
  return dirty ? "No problems, not saved yet" : "No problems, saved";
}

/**
 * @param {{added: number, changed: number}} took
 */
export function pastedText({ added, changed }) {
  const said = [`${added} added`, ...(changed ? [`${changed} brought up to date`] : [])];
  return `${said.join(", ")}.`;
}

/** @param {number} shown @param {number} all */
export function shownText(shown, all) {
  return shown < all ? `${shown} of ${all} are shown: search for the others` : "";
}
