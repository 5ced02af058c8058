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

/** One haul, a block of four, ten swings. */
const SMALL = [
  [
    { movement: "sled haul", amount: 1 },
    { movement: "shuttle touch", amount: 4, credit: "block" },
    { movement: "swing", amount: 10, loads: { women: "16 kg" } },
  ],
];

const LANE = {
  division: "women",
  status: "working",
  place: 1,
  done: 0,
  no_reps: 0,
  result: "",
};

/**
 * A frame of a running heat.
 *
 * @param {Record<string, object>} lanes what differs from a plain lane
 * @param {{laps?: number, rounds?: object[][]}} options without laps the rounds repeat
 */
export function frameOf(lanes, { laps, rounds = SMALL } = { laps: 1 }) {
  return {
    view: "heat",
    competition: { name: "Test Trials" },
    divisions: { women: { name: "Women" } },
    event: eventOf(rounds, { laps }),
    heat: { id: "h1", name: "Heat 1", status: "running" },
    clock: { cap_ms: 900_000, zero_unix_ms: 0, zero_at_ms: 0 },
    order: Object.keys(lanes).map(Number),
    lanes: Object.fromEntries(
      Object.entries(lanes).map(([lane, given]) => [lane, { ...LANE, lane: Number(lane), name: `Entry ${lane}`, ...given }]),
    ),
  };
}
