/**
 * The link to the server (docs/wire.md): says hello, watches views and keeps their frames whole across lost links,
 * keeps the clock, and notices a link that is only half there.
 *
 * @typedef {import("./types.js").HeatFrame} HeatFrame
 * @typedef {import("./types.js").Notice} Notice
 * @typedef {import("./types.js").ServerMessage} ServerMessage
 *
 * @typedef {object} SocketPort the part of WebSocket that is used
 * @property {(text: string) => void} send
 * @property {() => void} close
 * @property {((event: any) => void) | null} onopen
 * @property {((event: any) => void) | null} onmessage
 * @property {((event: any) => void) | null} onclose
 *
 * @typedef {object} WirePorts the outside world, so that a test can stand in for it
 * @property {() => SocketPort} connect
 * @property {() => number} now our clock, which is never set: milliseconds from anywhere
 * @property {() => number} [wall] the device's wall time, Unix milliseconds; missing: the same
 * @property {() => number} random from 0 up to 1
 * @property {(ms: number, act: () => void) => () => void} after gives the function that calls it off
 * @property {(back: () => void, gone: () => void) => () => void} onNetwork calls when the device is likely to have a
 *   network again, and when it says that it has none; gives the function that calls it off
 *
 * @typedef {object} WireOptions
 * @property {"viewer" | "lane" | "backup" | "table" | "head" | "desk" | "commentator" | "spotter"} role
 * @property {string} [key]
 * @property {number} [lane]
 * @property {string} [floor] one of several, which the lane is on
 * @property {number} [apartMs] the server's clock less wall time when a page of before knew it: a guess to show
 * @property {() => string} [sender] asked at every hello
 * @property {{view: string, heat: string}[]} [watch]
 * @property {string} [language] that of the cues in what is watched, else the competition's
 * @property {(view: string, frame: HeatFrame, heat: string, unixMs: number) => void} [onFrame] `heat` as it was asked for;
 *   `unixMs` is the server's wall time when the frame was made
 * @property {(link: {up: boolean, since: number}) => void} [onLink] up: the server has welcomed us
 * @property {(message: Notice) => void} [onMessage] everything else the server says
 * @property {() => void} [onClock] the server's clock is known, or known again
 *
 * @typedef {object} Watched
 * @property {string} view
 * @property {string} heat
 * @property {string} [epoch]
 * @property {number} [number] missing: a snapshot is on its way
 * @property {object} [frame] as it came, shortened
 * @property {Whole} whole makes it whole
 */

import { createClockSync } from "./clock.js";
import { unpack } from "./packed.js";
import { applyPatch } from "./patch.js";
import { Whole } from "./whole.js";

/** What the pages that send watch: pad and table. */
export const SENDERS_VIEW = "table";

const BACK_OFF_MS = { least: 250, most: 5000 };
const PING_EVERY_MS = 10_000;
/** A few pings at once on a new link, so that one slow round trip does not set the clock. */
const PINGS_ON_OPEN = 4;
const SILENT_MS = 12_000;
/** A ping younger than this may yet be answered. */
const PATIENCE_MS = 4000;
const LOOK_EVERY_MS = 1000;
/** Wall time is read in whole milliseconds and follows slow corrections; more than this at once is a step or a sleep. */
const APART_MS = 100;
/** A pause of the device between two readings that belong together, longer than this, makes them say nothing. */
const READ_MS = 20;
/** So many readings in a row are tried. */
const READINGS = 5;

/**
 * How long to wait before the next try: doubled each time, and spread so that a hall of phones does not come back in
 * one wave.
 *
 * @param {number} attempt 0 for the first
 * @param {number} random from 0 up to 1
 * @returns {number} milliseconds
 */
export function backOffMs(attempt, random) {
  const most = Math.min(BACK_OFF_MS.most, BACK_OFF_MS.least * 2 ** attempt);
  return Math.max(BACK_OFF_MS.least, most / 2 + (most / 2) * random);
}

/**
 * Where the websocket of this page's own server is.
 *
 * @param {{protocol: string, host: string}} address the page's location
 * @returns {string}
 */
export function wireUrl(address) {
  return `${address.protocol === "https:" ? "wss:" : "ws:"}//${address.host}/wire`;
}

/**
 * Open the link and keep it open.
 *
 * @param {WireOptions} options
 * @param {WirePorts} [ports]
 * @returns {Wire}
 */
export function openWire(options, ports = browserPorts()) {
  const wire = new Wire(options, ports);
  wire.open();
  return wire;
}

class Wire {
  /**
   * The server's clock: `at(ms)` is its wall time when ours (`performance.now()`) showed that. Before the first answer, and
   * after the device slept or was set, until the next one, it is a guess to show and not `known`: nothing is stamped by it.
   */
  clock;
  #sync = createClockSync();
  #options;
  #worded;
  #ports;
  /** @type {SocketPort | undefined} */
  #socket;
  /** @type {Map<string, Watched>} */
  #watched = new Map();
  /** Wall time less our clock: it changes when the device slept or was set. */
  #apartMs;
  #doubted = false;
  /** The server's clock less ours as a frame tells it, too early by the time the frame took. @type {number | undefined} */
  #guessMs;
  #attempt = 0;
  #up = false;
  /** Hello is said on this socket, with all that was watched then; what comes later is asked for by itself. */
  #greeted = false;
  #isOld = false;
  #heardAt = 0;
  /** When the oldest unanswered ping left; undefined when none is out. @type {number | undefined} */
  #pingedAt;
  #pingDueAt = 0;
  #burst = 0;
  /** @type {(() => void)[]} */
  #stops = [];
  #stopRetry = () => {};
  #closed = false;

  /**
   * @param {WireOptions} options
   * @param {WirePorts} ports
   */
  constructor(options, ports) {
    this.#options = options;
    this.#ports = ports;
    this.#worded = present({ language: options.language });
    this.#apartMs = this.#apart() ?? this.#wallMs() - ports.now();
    const guess = () => this.#guessMs ?? this.#apartMs + (options.apartMs ?? 0);
    const offset = (/** @type {number} */ ms) => this.#sync.offsetMs(ms) ?? guess();
    this.clock = {
      nowMs: () => ports.now() + offset(ports.now()),
      at: (/** @type {number} */ ms) => ms + offset(ms),
      errorMs: () => (this.#doubt() ? undefined : this.#sync.errorMs(ports.now())),
    };
    for (const { view, heat } of options.watch ?? []) this.#watched.set(`${view}/${heat}`, { view, heat, whole: new Whole() });
  }

  /** Begin, and look after the link from then on. */
  open() {
    this.#connect();
    this.#stops.push(this.#ports.onNetwork(() => this.#wake(), () => this.#lose()));
    const look = () => {
      this.#look();
      stop = this.#ports.after(LOOK_EVERY_MS, look);
    };
    let stop = this.#ports.after(LOOK_EVERY_MS, look);
    this.#stops.push(() => stop());
  }

  /**
   * Send a message. False: there is no link now, nothing was sent.
   *
   * @param {object} message
   * @returns {boolean}
   */
  send(message) {
    if (!this.#up) return false;
    this.#post(message);
    return true;
  }

  /**
   * Watch one more view of a heat (`floor`: whichever heat is on the floor; see floor.js).
   *
   * @param {string} view
   * @param {string} heat
   */
  watch(view, heat) {
    const key = `${view}/${heat}`;
    if (this.#watched.has(key)) return;
    this.#watched.set(key, { view, heat, whole: new Whole() });
    if (this.#greeted) this.#ask(view, heat);
  }

  /**
   * Stop watching a view of a heat.
   *
   * @param {string} view
   * @param {string} heat
   */
  unwatch(view, heat) {
    if (this.#watched.delete(`${view}/${heat}`) && this.#greeted) {
      this.#post({ type: "unwatch", view, heat, ...this.#worded });
    }
  }

  /** Drop the link and say hello again at once. */
  restart() {
    this.#attempt = 0;
    this.#lose();
    this.#wake();
  }

  /** Close for good. */
  close() {
    this.#closed = true;
    this.#stopRetry();
    for (const stop of this.#stops) stop();
    this.#lose();
  }

  #connect() {
    if (this.#closed || this.#socket) return;
    const socket = this.#ports.connect();
    this.#socket = socket;
    this.#heardAt = this.#pingedAt = this.#ports.now(); // a link that never opens counts as an unanswered ping
    socket.onopen = () => this.#socket === socket && this.#greet();
    socket.onmessage = (event) => this.#socket === socket && this.#hear(event.data);
    socket.onclose = () => this.#socket === socket && this.#lose();
  }

  /** Say hello and ask for what we watch. The server answers in this order, so there is no need to wait. */
  #greet() {
    const { role, key, lane, floor, sender } = this.#options;
    this.#heardAt = this.#ports.now();
    this.#pingedAt = undefined;
    this.#post({ type: "hello", role, ...present({ key, lane, floor, sender: sender?.() }) });
    for (const { view, heat, epoch, number } of this.#watched.values()) {
      this.#ask(view, heat, number === undefined ? {} : { epoch, number });
    }
    this.#greeted = true;
    this.#burst = PINGS_ON_OPEN;
    this.#ping();
  }

  /**
   * @param {string} view
   * @param {string} heat
   * @param {{epoch?: string, number?: number}} [seen] what we have of it
   */
  #ask(view, heat, seen = {}) {
    this.#post({ type: "watch", view, heat, packed: true, ...this.#worded, ...seen });
  }

  /** @param {string} text */
  #hear(text) {
    /** @type {ServerMessage} */
    const message = JSON.parse(text);
    this.#heardAt = this.#ports.now();
    if (message.type === "snapshot") this.#takeSnapshot(message);
    else if (message.type === "patch") this.#takePatch(message);
    else if (message.type === "pong") this.#takePong(message);
    else this.#takeNotice(message);
  }

  /** @param {Notice} message */
  #takeNotice(message) {
    if (message.type === "welcome") {
      this.#attempt = 0; // only now, because a server that turns us away must not be asked four times a second
      this.#setUp(true);
    }
    this.#options.onMessage?.(message);
  }

  /** @param {import("./types.js").Snapshot} message */
  #takeSnapshot({ view, heat, epoch, number, unix_ms, frame, columns }) {
    const watched = this.#watched.get(`${view}/${heat}`);
    if (!watched) return;
    this.#guess(unix_ms);
    this.#take(Object.assign(watched, { epoch, number, frame: unpack(frame, columns) }), unix_ms);
  }

  /** @param {import("./types.js").Patch} message */
  #takePatch({ view, heat, number, unix_ms, patch }) {
    const watched = this.#watched.get(`${view}/${heat}`);
    if (!watched || watched.number === undefined || number <= watched.number) return;
    if (number > watched.number + 1) {
      watched.number = undefined; // a patch is missing: only a whole frame helps
      this.#ask(view, heat);
      return;
    }
    watched.number = number;
    this.#take(Object.assign(watched, { frame: applyPatch(watched.frame, patch) }), unix_ms);
  }

  /**
   * @param {Watched} watched with a newer frame, as it came
   * @param {number} unixMs
   */
  #take(watched, unixMs) {
    const frame = watched.whole.of(/** @type {HeatFrame} */ (watched.frame));
    this.#tellAge(frame);
    this.#options.onFrame?.(watched.view, frame, watched.heat, unixMs);
  }

  /** @param {import("./types.js").Pong} message */
  #takePong({ t1, t2, t3 }) {
    this.#pingedAt = undefined;
    const wasKnown = this.clock.errorMs() !== undefined;
    this.#sync.sample(t1, t2, t3, this.#ports.now());
    this.#doubted = false;
    if (!wasKnown) this.#options.onClock?.();
    this.#burst -= 1;
    if (this.#burst > 0) this.#ping();
  }

  #ping() {
    const now = this.#ports.now();
    this.#pingedAt ??= now;
    this.#pingDueAt = now + PING_EVERY_MS;
    this.#post({ type: "ping", t1: now });
  }

  /** Once a second: ping when it is time, and give up on a link that answers nothing. */
  #look() {
    if (!this.#socket) return;
    const now = this.#ports.now();
    const unanswered = this.#pingedAt !== undefined && now - this.#pingedAt >= PATIENCE_MS;
    if (unanswered && now - this.#heardAt >= SILENT_MS) this.#lose();
    else if (this.#up && now >= this.#pingDueAt) this.#ping();
  }

  #lose() {
    const socket = this.#socket;
    this.#socket = undefined;
    this.#greeted = false;
    socket?.close();
    this.#setUp(false);
    this.#stopRetry();
    if (this.#closed) return;
    const wait = backOffMs(this.#attempt, this.#ports.random());
    this.#attempt += 1;
    this.#stopRetry = this.#ports.after(wait, () => this.#connect());
  }

  /** The device says that it has a network again: do not sit out the back-off. */
  #wake() {
    if (this.#socket || this.#closed) return;
    this.#stopRetry();
    this.#connect();
  }

  /** @param {boolean} up */
  #setUp(up) {
    if (up === this.#up) return;
    this.#up = up;
    this.#isOld = false;
    this.#options.onLink?.({ up, since: this.#wallMs() });
  }

  /**
   * A server that is itself cut off says how old its picture is: for those who watch, that is a link that is down.
   *
   * @param {HeatFrame} frame
   */
  #tellAge(frame) {
    const isOld = frame.behind_ms !== undefined;
    if (isOld === this.#isOld || !this.#up) return;
    this.#isOld = isOld;
    this.#options.onLink?.({ up: !isOld, since: this.#wallMs() - (frame.behind_ms ?? 0) });
  }

  #wallMs() {
    return (this.#ports.wall ?? this.#ports.now)();
  }

  /** @param {number} [unixMs] the server's wall time when a frame was made */
  #guess(unixMs) {
    if (unixMs !== undefined) this.#guessMs = Math.max(this.#guessMs ?? -Infinity, unixMs - this.#ports.now());
  }

  /**
   * Wall time less our clock. A device that pauses between the two readings must not seem to have been set.
   *
   * @returns {number | undefined} undefined: it paused each time
   */
  #apart() {
    const { now } = this.#ports;
    for (let tried = 0; tried < READINGS; tried += 1) {
      const before = now();
      const apart = this.#wallMs() - before;
      if (now() - before <= READ_MS) return apart;
    }
    return undefined;
  }

  /** The device's two clocks went apart: one was set, or one slept. Which one, only the next answer tells. */
  #doubt() {
    const apart = this.#apart() ?? this.#apartMs;
    if (Math.abs(apart - this.#apartMs) > APART_MS) {
      this.#doubted = true;
      if (this.#up) this.#ping();
    }
    this.#apartMs = apart;
    return this.#doubted;
  }

  /** @param {object} message */
  #post(message) {
    this.#socket?.send(JSON.stringify(message));
  }
}

/**
 * @param {{[name: string]: unknown}} values
 * @returns {{[name: string]: unknown}}
 */
function present(values) {
  return Object.fromEntries(Object.entries(values).filter(([, value]) => value !== undefined));
}

/** @returns {WirePorts} */
function browserPorts() {
  return {
    connect: () => new WebSocket(wireUrl(location)),
    now: () => performance.now(),
    wall: () => Date.now(),
    random: () => Math.random(),
    after(ms, act) {
      const timer = setTimeout(act, ms);
      return () => clearTimeout(timer);
    },
    onNetwork(back, gone) {
      const seen = () => document.visibilityState === "visible" && back();
      addEventListener("online", back);
      addEventListener("offline", gone);
      document.addEventListener("visibilitychange", seen);
      return () => {
        removeEventListener("online", back);
        removeEventListener("offline", gone);
        document.removeEventListener("visibilitychange", seen);
      };
    },
  };
}
