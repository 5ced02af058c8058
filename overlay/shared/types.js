/**
 * The shapes that travel on the wire, for the type checker; nothing here runs. docs/wire.md and docs/frames.md bind.
 * A frame never contains null: a missing value is a missing key.
 *
 * @typedef {{[key: string]: unknown}} Json
 *
 * @typedef {object} Leg one station of one round, with the numbers at its end counted from the start of the lap
 * @property {number} round
 * @property {number} station
 * @property {string} movement
 * @property {number} amount
 * @property {string} unit
 * @property {"unit" | "block"} credit
 * @property {number} done_after
 * @property {number} scored_after
 * @property {number} expected_ms
 * @property {number} touch_guard_ms
 * @property {Record<string, string>} loads
 *
 * @typedef {object} EventData
 * @property {string} id
 * @property {string} name
 * @property {string} format
 * @property {number} rounds_a_lap
 * @property {number} lap_done
 * @property {number} lap_scored
 * @property {number} [laps] missing: the lap repeats until the time is up
 * @property {number} [total_scored]
 * @property {number} [total_done]
 * @property {Leg[]} legs
 * @property {string} [part] of several scored parts, the one that places in the event and points are of
 * @property {{form: "relay" | "synchro" | "shared", size: number}} [team] pairs and teams only
 *
 * @typedef {object} ClockData
 * @property {number} cap_ms
 * @property {number} [zero_unix_ms] server wall time when the heat clock stood at zero_at_ms; missing: not started
 * @property {number} [zero_at_ms]
 * @property {number} [ended_ms]
 *
 * @typedef {"ready" | "working" | "finished" | "capped" | "timed" | "withdrawn" | "did_not_start" | "disqualified"} LaneStatus
 *
 * @typedef {object} LaneData
 * @property {number} lane
 * @property {string} entry
 * @property {string} name
 * @property {string} short
 * @property {string} home
 * @property {string} division
 * @property {LaneStatus} status
 * @property {number} place
 * @property {boolean} shared
 * @property {number} [points] what the place in the event is worth as it stands; missing before the start
 * @property {number} scored_reps
 * @property {number} done
 * @property {number} round
 * @property {number} station
 * @property {string} movement
 * @property {string} unit
 * @property {number} station_done
 * @property {number} station_amount
 * @property {"unit" | "block"} credit
 * @property {number} next_mark
 * @property {number} round_mark
 * @property {number} gap_leader
 * @property {number} gap_next
 * @property {number} no_reps
 * @property {string} result
 * @property {number} reached_ms
 * @property {number} remarks
 * @property {Record<string, number>} splits
 * @property {number} [reps_to_go]
 * @property {number} [finish_ms]
 * @property {number} [withdrawn_ms]
 * @property {number} [penalty_ms] added to the time of the result
 * @property {{place: number, shared: boolean, of: number, to_beat?: string}} [in_event]
 * @property {boolean} [held] on medical hold; table view only, as are the next three
 * @property {boolean} [checked] the scoresheet was compared
 * @property {string[]} [remark_list] the newest remarks in words
 * @property {{reps: number, ms: number, reason: string}[]} [penalties]
 * @property {number} [member] teams, table view only: whose turn it is
 * @property {number[]} [members] teams, table view only: units by member
 * @property {import("../call/types.js").Stakes} [stakes] call view only
 * @property {{leader?: import("../call/types.js").Behind, next?: import("../call/types.js").Behind}} [behind] gap view and call
 *
 * @typedef {object} HeatFrame
 * @property {string} view
 * @property {"live" | "rehearsal"} [mode]
 * @property {number} [speed]
 * @property {number} [jumps] how often a rehearsal has jumped; missing: never
 * @property {number} [old_ms] call and standings only: how old the numbers are, while the server is late with new ones
 * @property {number} [behind_ms] from an edge that is cut off: how old the picture is
 * @property {{name: string}} competition
 * @property {Record<string, {name: string}>} divisions
 * @property {EventData} event
 * @property {{id: string, name: string, status: "waiting" | "running" | "over", floor?: {id: string, name: string}}} heat the
 *   floor only where there are several
 * @property {ClockData} clock
 * @property {{lane?: number, round?: number}} leader
 * @property {number[]} order
 * @property {Record<string, LaneData>} lanes
 * @property {Record<string, number[]>} [worth] heat, gaps, result and call view only: by division, what each place in the event is
 *   worth, first place first
 * @property {import("./day.js").DayHeat[]} [heats] table view only, as is the result
 * @property {import("./day.js").DayHeat[]} [day] next view only: the heat that started last, and those that are next
 * @property {string} [start_id] table view only: the fact that started the clock
 * @property {string[]} [recalled] table view only: the starts that were false
 * @property {string} [floor] the id of the heat on this heat's floor
 * @property {Record<string, {name: string, heat: string}>} [floors] table view only, of several floors: the heat on each
 * @property {{lanes: number[], apart_ms: number, within_ms: number}[]} [too_close] table view only: finishes that taps cannot tell apart
 * @property {Record<string, LanePads>} [pads] table view only, by lane: the devices that count
 * @property {number[]} [waiting_for_pad] heat view only: lanes whose pad was there and is gone
 * @property {boolean} [open] table view only: lanes count in this heat, which was called or started and is not signed
 * @property {ResultLife} [result] result, event and standings view too, there the stage alone
 * @property {Record<string, Ranking>} [ranking] event view only, by division
 * @property {Record<string, Standings>} [standings] standings view only, by division; missing until they are worked out
 * @property {NextHeat} [next] next view only
 * @property {Record<string, {early: boolean, rows: import("../call/types.js").OverallRow[]}>} [overall] call view only
 *
 * @typedef {object} PadDevice
 * @property {string} sender
 * @property {string} role
 * @property {boolean} up
 * @property {number} since_unix_ms
 * @property {number} [last_unix_ms] when its last fact came
 * @property {number} [waiting]
 * @property {number} [held]
 * @property {number} [battery] percent
 * @property {number} [error_ms]
 * @property {number} [ahead_ms]
 * @property {string[]} [alarms]
 *
 * @typedef {object} LanePads
 * @property {PadDevice[]} devices
 * @property {string} [counted_by] the role of who touched last, where that was none of the devices: `table`, `machine`
 * @property {boolean} [two] main counters on more than one device
 * @property {number} [backup] scored reps of the backup counter
 * @property {boolean} [disagree]
 * @property {number} [stalled_after_ms] without a rep, by the lane's own forecast
 *
 * @typedef {object} Named somebody in a table over several heats
 * @property {string} entry
 * @property {string} name
 * @property {string} short
 * @property {number} place
 * @property {boolean} shared
 * @property {number} [lane] on the floor in this heat
 *
 * @typedef {Named & {heat: string, status: LaneStatus, result: string, points: number, settled: boolean}} RankingRow
 * @typedef {{heats: number, raced: number, over: number, order: string[], rows: Record<string, RankingRow>}} Ranking
 *
 * @typedef {object} StandingsMore
 * @property {number} total
 * @property {boolean} raced
 * @property {number} [gained]
 * @property {{place: number, shared: boolean, total: number}} [before]
 * @property {{place: number, event: string}} [best]
 *
 * @typedef {Named & StandingsMore} StandingsRow
 * @typedef {{heats: number, raced: number, order: string[], rows: Record<string, StandingsRow>}} Standings
 *
 * @typedef {Pick<LaneData, "lane" | "entry" | "name" | "short" | "home" | "division">} Starter
 *
 * @typedef {object} NextHeat
 * @property {{id: string, name: string}} heat
 * @property {{id: string, name: string}} event
 * @property {Record<string, {name: string}>} divisions
 * @property {Record<string, Starter>} lanes
 *
 * @typedef {object} ResultLife how far the result of a heat is
 * @property {"live" | "provisional" | "official" | "amended"} stage
 * @property {string} digest what a signature names
 * @property {string} [signed_by]
 * @property {number[]} unchecked lanes whose scoresheet is to be compared
 * @property {boolean} changed no longer what was signed
 *
 * @typedef {Record<string, string>} Params what a view is to show: `who`, `heat`, `part`
 *
 * @typedef {object} Item a view with what it shows
 * @property {string} view
 * @property {Params} params
 * @property {string} [name] what the operator calls it
 *
 * @typedef {object} OutputData
 * @property {string} name
 * @property {number} width
 * @property {number} height
 * @property {number} hold_ms
 * @property {number} delay_ms
 * @property {string} [floor] whose heat it shows, of several floors
 * @property {"off" | "propose" | "take"} automatic
 * @property {string} [automatic_by] the sender that works it
 * @property {Item[]} rundown
 * @property {string} [rundown_digest] tells one rundown from another
 * @property {number} [rundown_edits] the number of its last change
 * @property {Item & {id: string, by: string}} [programme] missing: clear
 * @property {{id: string, unix_ms: number, by: string, timecode?: string}} [changed] the newest take or clear
 *
 * @typedef {object} ShowFrame
 * @property {"live" | "rehearsal"} [mode]
 * @property {{name: string}} competition
 * @property {Record<string, {name: string, floor?: string}>} heats
 * @property {Record<string, {name: string}>} [floors] only where there are several
 * @property {Record<string, {title: string, least: number, most: number}>} views
 * @property {Record<string, string>} parts names of the scores of events with several
 * @property {Record<string, OutputData>} outputs
 * @property {string[]} held entries under a medical hold, in any heat
 *
 * @typedef {object} SubjectsFrame
 * @property {{id: string, name: string}} heat
 * @property {"live" | "provisional" | "official" | "amended"} stage
 * @property {string[]} parts scores of the event, where it has several
 * @property {Record<string, number[]>} subjects
 * @property {number[]} held
 * @property {Record<string, Record<string, string>>} missing by view; under `heat` for any lane, or under a lane
 *
 * @typedef {object} FactDraft a fact before the queue gives it its sender and number
 * @property {string} fact
 * @property {string} id
 * @property {string} heat
 * @property {number} at_ms
 * @property {number} [lane]
 * @property {number} [n]
 * @property {string} [reason]
 * @property {string} [voids]
 * @property {string} [start] the start by whose clock the time was told
 * @property {string} [recalls]
 * @property {number} [scored_reps]
 * @property {number} [unix_ms]
 * @property {number} [load_milli]
 * @property {number} [member]
 *
 * @typedef {FactDraft & {sender: string, sequence: number}} FactData
 *
 * @typedef {object} TallyData what the table has counted for a lane
 * @property {string} heat
 * @property {number} lane
 * @property {number} done
 * @property {number} scored_reps
 * @property {number} no_reps
 * @property {LaneStatus} status
 * @property {number} [member]
 * @property {number[]} [members]
 *
 * @typedef {object} Refusal
 * @property {number} sequence
 * @property {string} code
 * @property {string} message
 *
 * @typedef {{type: "welcome", role: string, mode: "live" | "rehearsal", speed: number, pages?: string, sender?: string, watermark?: number, facts?: string[]}} Welcome
 * @typedef {{type: "acknowledged", sender: string, watermark: number, refused: Refusal[], tally?: TallyData}} Acknowledged
 * @typedef {{type: "gap", expected: number, found: number}} Gap
 * @typedef {{type: "error", code: string, message: string, path?: string}} WireError
 * @typedef {{type: "storage", state: "ok" | "low" | "held", message: string}} StorageNotice
 * @typedef {{type: "snapshot", view: string, heat: string, epoch: string, number: number, unix_ms: number, frame: Json,
 *   columns?: Record<string, string[]>}} Snapshot its tables are packed (packed.js) and its lanes shortened (whole.js)
 * @typedef {{type: "patch", view: string, heat: string, number: number, unix_ms: number, patch: Json}} Patch
 * @typedef {{type: "pong", t1: number, t2: number, t3: number}} Pong
 * @typedef {Welcome | Acknowledged | Gap | WireError | StorageNotice} Notice what a page hears besides frames
 * @typedef {Notice | Snapshot | Patch | Pong} ServerMessage
 */

export {};
