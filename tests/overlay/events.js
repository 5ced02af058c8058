/**
 * A frame's `event` for a test, built from stations.
 *
 * @param {object[][]} rounds stations: movement, amount and what differs from a plain one
 * @param {{laps?: number}} options
 */
export function eventOf(rounds, { laps }) {
  let [done, scored] = [0, 0];
  const legs = rounds.flatMap((stations, index) =>
    stations.map((given, number) => {
      const station = { unit: "reps", credit: "unit", expected_ms: 30_000, touch_guard_ms: 150, loads: {}, ...given };
      done += station.amount;
      scored += station.credit === "block" ? 1 : station.amount;
      return { round: index + 1, station: number + 1, ...station, done_after: done, scored_after: scored };
    }),
  );
  const totals = laps ? { laps, total_done: laps * done, total_scored: laps * scored } : {};
  const lap = { rounds_a_lap: rounds.length, lap_done: done, lap_scored: scored };
  return { id: "e", name: "Event", format: laps ? "for_time" : "amrap", ...lap, ...totals, legs };
}
