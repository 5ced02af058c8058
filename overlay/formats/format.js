/**
 * What the pages ask a format for: the interface that every module of this folder fills, for the type checker; nothing
 * here runs. A module fills in what is its own with `makeFormat` (plain.js); the rest is that of plain counting.
 *
 * @typedef {import("../shared/types.js").EventData} EventData
 * @typedef {import("../shared/types.js").LaneData} LaneData
 * @typedef {import("../shared/plan.js").Position} Position
 * @typedef {import("../call/types.js").Outlook} Outlook
 * @typedef {import("../call/types.js").Spread} Spread
 * @typedef {import("../call/types.js").CallLane} CallLane
 * @typedef {import("../table/actions.js").Action} Action
 *
 * @typedef {object} CountedWork what a lane has done, as its pad counts it
 * @property {number} done units; with pieces of the one last worked in, in synchro what all have done
 * @property {number} no_reps
 * @property {boolean} out stopped for good: withdrawn, disqualified or did not start
 * @property {number} [member] relay: whose turn it is
 * @property {number[]} [members] teams: units by member
 * @typedef {CountedWork & {[own: string]: any}} Count with the fields that the format names in `pad.fields`
 *
 * @typedef {{fact: string, load_milli?: number, n?: number}} PadFact a fact of the pad, before it has heat, lane and time
 *
 * @typedef {object} Moment what the pad knows of its lane when it asks
 * @property {EventData} event
 * @property {Count} count what the judge has counted
 * @property {string} division
 * @property {number | undefined} clockMs undefined before the start
 * @property {any} chosen what the judge chose for the next press, as `pad.choose` gave it; undefined: nothing yet
 * @property {boolean} finishCalled the finish of what is counted now was called on this pad
 *
 * @typedef {object} PadWork
 * @property {string} number the cumulative number, or what stands in its place
 * @property {string} station
 * @property {string} load
 * @property {string} into
 * @property {string} next
 * @property {string} nextWord
 * @property {number} progress of the station, 0 to 1
 *
 * @typedef {object} PadSurface
 * @property {string} surface `tap` counts a touch, `locked` takes none; any other name is held
 * @property {string} ask what the surface asks for
 * @property {boolean} noRep the no-rep key may be pressed
 * @property {boolean} finish the finish may be called
 *
 * @typedef {{text: string, calm?: boolean}} Lock why nothing can be counted; calm: nothing is wrong
 *
 * @typedef {object} PadFormat
 * @property {readonly string[]} fields of the table's count of a lane that only this format has
 * @property {(count: Count, fact: PadFact) => Count | undefined} take what a fact of its own makes of a count; undefined: none of its own
 * @property {(event: EventData, count: Count, atMs: number, change: (done: number) => number) => Count | undefined} worked
 *   changes the units where they belong; undefined: simply in the lane
 * @property {(before: Count, after: Count) => number[]} gains units that were added apart from the lane's count
 * @property {(event: EventData, count: Count, clockMs: number | undefined) => number} done units of what is done now
 * @property {(event: EventData, clockMs: number) => number | undefined} since when what is counted now began
 * @property {(moment: Moment) => string} where the lane is in the work, in words
 * @property {(moment: Moment) => PadWork} work
 * @property {(moment: Moment) => PadSurface} surface
 * @property {(event: EventData, count: Count, clockMs: number) => Lock | undefined} lock by rules of its own
 * @property {(count: Count) => boolean} open something was begun in time that may be judged after it
 * @property {(event: EventData, lastUnitMs: number | undefined, clockMs: number) => string | undefined} complete what is
 *   said when all there is to do now is done; undefined: that the lane has finished
 * @property {(event: EventData, count: Count, clockMs: number | undefined) => string} proof what the table has
 * @property {(moment: Moment, surface: string) => PadFact | undefined} press what holding a surface of its own does
 * @property {(count: Count) => PadFact} noRep what the no-rep key does
 * @property {string} noRepWord on that key
 * @property {string} noRepLater said when the key is pressed and cannot do anything
 * @property {(moment: Moment, surface: string) => string[]} choices keys beside the surface
 * @property {(moment: Moment, choice: string) => {chosen?: any, units?: number}} choose what such a key chooses, or counts
 * @property {(from: number, to: number) => string} corrected said when the table changed what was counted
 *
 * @typedef {object} CallFormat
 * @property {string} end what the forecast is of: `finish`, or `at the end`
 * @property {(event: EventData, lane: CallLane) => string | undefined} meaning of the next number; undefined: the end of
 *   a station, a round or the work
 * @property {(event: EventData, outlook: Partial<Outlook>) => [Spread | undefined, (amount: number) => string][]} ends
 *   what is forecast, and how it is written; the first that is there is said
 * @property {(lane: CallLane) => [string, string][]} facts label and text of its own
 *
 * @typedef {object} GapsFormat
 * @property {(event: EventData, lane: Pick<LaneData, "station_done" | "station_amount">) => string | undefined} meaning as in the call
 *
 * @typedef {object} AirFormat
 * @property {(lane: Pick<LaneData, "result">) => string} note what a figure is while the lane works
 * @property {(lane: Pick<LaneData, "result">, gap: number) => string} apart the distance between two lanes
 *
 * @typedef {object} TableFormat
 * @property {(event: EventData, at: Position) => string} into how far into the station
 * @property {(lane: LaneData) => string | undefined} own of a lane; undefined: nothing
 * @property {(event: EventData, lane: Pick<LaneData, "reached_ms">, clockMs: number) => number | undefined} since how long
 *   without a rep; undefined: nobody is expected to work
 * @property {Record<string, Action>} actions of its own
 * @property {readonly string[]} without actions of every lane that make no sense in it
 * @property {readonly [string, string]} atHand the two actions that a row has at hand
 *
 * @typedef {object} FactWords a kind of fact that only this format has
 * @property {string} name what undo would strike
 * @property {(fact: any) => string} done what the table did
 * @property {readonly string[]} restores fields of a count that undo brings back as they were
 *
 * @typedef {object} Format
 * @property {string} title how the workout is scored
 * @property {(text: string) => string | undefined} result a result of its own, from the words of a frame; undefined: none of its own
 * @property {string} remark what the people who work with it must know; empty: nothing
 * @property {"reps" | "attempts"} unit of the numbers along the line of work
 * @property {boolean} marks the numbers at the ends of stations are what lanes work towards
 * @property {boolean} onePass a round is gone through once, so that its first is news
 * @property {(lane: Pick<LaneData, "result">, gap: number) => string} behind a gap in what is scored
 * @property {(event: EventData, lane?: Pick<LaneData, "round" | "movement" | "reached_ms">) => string} where a lane is
 * @property {PadFormat} pad
 * @property {CallFormat} call
 * @property {GapsFormat} gaps
 * @property {AirFormat} air
 * @property {TableFormat} table
 * @property {Record<string, FactWords>} facts by kind
 *
 * @typedef {Omit<Partial<Format>, "pad" | "call" | "gaps" | "air" | "table">} Whole
 * @typedef {{pad?: Partial<PadFormat>, call?: Partial<CallFormat>, gaps?: Partial<GapsFormat>}} Parts
 * @typedef {Whole & Parts & {air?: Partial<AirFormat>, table?: Partial<TableFormat>}} Own what a format fills in
 */

export {};
