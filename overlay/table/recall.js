/**
 * What a false start strikes one by one: the touches of a heat that name no start, because a machine or an older program
 * sent them, read from the server's record. Those that name it never count by themselves.
 */

/** What judges and machines count; what the table did (a withdrawal, a penalty, a hold) stands. */
export const TOUCHES = new Set(["rep_counted", "block_completed", "no_rep_called", "finished", "attempt_declared", "attempt_made", "attempt_failed", "exchanged"]);

/**
 * Give the touches of a heat that may still stand and name no start.
 *
 * @param {string} heat
 * @param {string} key the table's
 * @returns {Promise<{lane: number, fact: string}[]>}
 */
export async function touchesOf(heat, key) {
  const answer = await fetch("../recording", { headers: { Authorization: `Bearer ${key}` } });
  if (!answer.ok) throw new Error(`found status ${answer.status}, expected the recording`);
  return touchesIn(await answer.text(), heat);
}

/**
 * @param {string} recording one fact a line
 * @param {string} heat
 * @returns {{lane: number, fact: string}[]}
 */
export function touchesIn(recording, heat) {
  const facts = recording.split("\n").filter(Boolean).map((line) => JSON.parse(line));
  const struck = new Set(facts.map(({ voids }) => voids));
  const found = facts.filter((each) => each.heat === heat && TOUCHES.has(each.fact) && each.start === undefined && !struck.has(each.id));
  return found.map(({ lane, id }) => ({ lane, fact: id }));
}
