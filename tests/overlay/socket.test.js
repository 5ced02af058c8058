import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { keyFrom } from "../../overlay/shared/key.js";
import { backOffMs, openWire, wireUrl } from "../../overlay/shared/socket.js";

/** A world with a clock that the test moves, and sockets that the test answers. */
class World {
  now = 1_000_000;
  sockets = [];
  networks = [];
  #timers = [];

  ports() {
    return {
      connect: () => this.#connect(),
      now: () => this.now,
      random: () => 1,
      after: (ms, act) => this.#after(ms, act),
      onNetwork: (back, gone) => {
        this.networks.push({ back, gone });
        return () => this.networks.pop();
      },
    };
  }

  get socket() {
    return this.sockets[this.sockets.length - 1];
  }

  pass(ms) {
    const end = this.now + ms;
    for (;;) {
      const next = this.#timers.filter((timer) => timer.at <= end).sort((a, b) => a.at - b.at)[0];
      if (!next) break;
      this.#timers.splice(this.#timers.indexOf(next), 1);
      this.now = next.at;
      next.act();
    }
    this.now = end;
  }

  #connect() {
    const socket = { sent: [], closed: false, onopen: null, onmessage: null, onclose: null };
    socket.send = (text) => socket.sent.push(JSON.parse(text));
    socket.close = () => (socket.closed = true);
    socket.says = (message) => socket.onmessage({ data: JSON.stringify(message) });
    this.sockets.push(socket);
    return socket;
  }

  #after(ms, act) {
    const timer = { at: this.now + ms, act };
    this.#timers.push(timer);
    return () => {
      const index = this.#timers.indexOf(timer);
      if (index >= 0) this.#timers.splice(index, 1);
    };
  }
}

let world;
let frames;
let links;
let notices;

beforeEach(() => {
  world = new World();
  [frames, links, notices] = [[], [], []];
});

const WELCOME = { type: "welcome", role: "lane", mode: "live", speed: 1, sender: "lane-4-x", watermark: 7 };
const SNAPSHOT = { type: "snapshot", view: "heat", heat: "floor", epoch: "e", number: 3, frame: { lanes: { 1: { done: 3 } } } };

function open(more = {}) {
  return openWire(
    {
      role: "lane",
      key: "k",
      lane: 4,
      sender: () => "lane-4-x",
      watch: [{ view: "heat", heat: "floor" }],
      onFrame: (view, frame) => frames.push(frame),
      onLink: (link) => links.push(link),
      onMessage: (message) => notices.push(message),
      ...more,
    },
    world.ports(),
  );
}

function openUp() {
  const wire = open();
  world.socket.onopen();
  world.socket.says(WELCOME);
  return wire;
}

const ofType = (type) => world.socket.sent.filter((message) => message.type === type);

test("a new link says hello with its key and sender, then watches, then asks for the time", () => {
  open();
  world.socket.onopen();
  assert.deepEqual(world.socket.sent, [
    { type: "hello", role: "lane", key: "k", lane: 4, sender: "lane-4-x" },
    { type: "watch", view: "heat", heat: "floor", packed: true },
    { type: "ping", t1: 1_000_000 },
  ]);
});

test("a viewer's hello has no key, lane or sender", () => {
  open({ role: "viewer", key: undefined, lane: undefined, sender: undefined });
  world.socket.onopen();
  assert.deepEqual(world.socket.sent[0], { type: "hello", role: "viewer" });
});

test("the link is up once the server has welcomed us, not before", () => {
  const wire = open();
  world.socket.onopen();
  assert.equal(wire.send({ type: "facts", facts: [] }), false);
  world.socket.says(WELCOME);
  assert.deepEqual(links, [{ up: true, since: 1_000_000 }]);
  assert.equal(wire.send({ type: "facts", facts: [] }), true);
  assert.deepEqual(notices, [WELCOME]);
});

test("a snapshot and the patches after it give whole frames", () => {
  openUp();
  world.socket.says(SNAPSHOT);
  world.socket.says({ type: "patch", view: "heat", heat: "floor", number: 4, patch: { lanes: { 1: { done: 4 } } } });
  assert.deepEqual(frames, [{ lanes: { 1: { done: 3 } } }, { lanes: { 1: { done: 4 } } }]);
});

test("a server whose picture is old counts as a link that is down since then, until it has caught up", () => {
  openUp();
  const at = (behind) => ({ type: "patch", view: "heat", heat: "floor", patch: { behind_ms: behind } });
  world.socket.says(SNAPSHOT);
  world.socket.says({ ...at(1500), number: 4 });
  world.socket.says({ ...at(2500), number: 5 });
  world.socket.says({ ...at(null), number: 6 });
  const since = links[0].since;
  assert.deepEqual(links.slice(1), [{ up: false, since: since - 1500 }, { up: true, since }]);
});

test("a patch that is already in the frame changes nothing", () => {
  openUp();
  world.socket.says(SNAPSHOT);
  world.socket.says({ type: "patch", view: "heat", heat: "floor", number: 3, patch: { lanes: { 1: { done: 9 } } } });
  assert.equal(frames.length, 1);
});

test("a missing patch makes the page ask for a whole frame, once, and trust nothing until it is there", () => {
  openUp();
  world.socket.says(SNAPSHOT);
  for (const number of [5, 6]) world.socket.says({ type: "patch", view: "heat", heat: "floor", number, patch: { a: 1 } });
  assert.equal(frames.length, 1);
  assert.deepEqual(ofType("watch").slice(1), [{ type: "watch", view: "heat", heat: "floor", packed: true }]);
  world.socket.says({ ...SNAPSHOT, number: 6 });
  world.socket.says({ type: "patch", view: "heat", heat: "floor", number: 7, patch: { a: 7 } });
  assert.equal(frames[2].a, 7);
});

test("after a lost link the page asks only for what it missed", () => {
  openUp();
  world.socket.says(SNAPSHOT);
  world.socket.onclose();
  world.pass(250);
  world.socket.onopen();
  assert.deepEqual(ofType("watch"), [{ type: "watch", view: "heat", heat: "floor", packed: true, epoch: "e", number: 3 }]);
  world.socket.says(WELCOME);
  world.socket.says({ type: "patch", view: "heat", heat: "floor", number: 4, patch: { a: 4 } });
  assert.deepEqual(frames[1], { lanes: { 1: { done: 3 } }, a: 4 });
  assert.deepEqual(links.map((link) => link.up), [true, false, true]);
});

test("tries wait 250 ms, then twice as long each time, up to 5 s", () => {
  open();
  const waits = [];
  for (let attempt = 0; attempt < 7; attempt += 1) {
    const [count, lostAt] = [world.sockets.length, world.now];
    world.socket.onclose();
    while (world.sockets.length === count) world.pass(1);
    waits.push(world.now - lostAt);
  }
  assert.deepEqual(waits, [250, 500, 1000, 2000, 4000, 5000, 5000]);
});

test("the wait is spread over its upper half, and never under 250 ms", () => {
  assert.equal(backOffMs(0, 0), 250);
  assert.equal(backOffMs(4, 0), 2000);
  assert.equal(backOffMs(4, 1), 4000);
  assert.equal(backOffMs(99, 0.5), 3750);
});

test("a server that opens the door but turns us away is asked less and less often", () => {
  open();
  for (const wait of [250, 500, 1000]) {
    world.socket.onopen();
    world.socket.says({ type: "error", code: "not_allowed", message: "wrong key" });
    const count = world.sockets.length;
    world.socket.onclose();
    world.pass(wait - 1);
    assert.equal(world.sockets.length, count);
    world.pass(1);
    assert.equal(world.sockets.length, count + 1);
  }
  assert.equal(notices[0].code, "not_allowed");
});

test("a network that comes back ends the wait at once", () => {
  open();
  for (let attempt = 0; attempt < 6; attempt += 1) {
    world.socket.onclose();
    world.pass(5000);
  }
  world.socket.onclose();
  const count = world.sockets.length;
  world.networks[0].back();
  assert.equal(world.sockets.length, count + 1);
});

test("a device that says it has no network does not wait to find out", () => {
  openUp();
  world.networks[0].gone();
  assert.equal(world.socket.closed, true);
  assert.deepEqual(links.map((link) => link.up), [true, false]);
  world.pass(250);
  assert.equal(world.sockets.length, 2);
});

test("pings go out ten seconds apart, and four at once on a new link", () => {
  openUp();
  for (let ping = 0; ping < 4; ping += 1) world.socket.says({ type: "pong", t1: world.now, t2: world.now, t3: world.now });
  assert.equal(ofType("ping").length, 4);
  world.pass(9000);
  assert.equal(ofType("ping").length, 4);
  world.pass(2000);
  assert.equal(ofType("ping").length, 5);
});

test("the server's clock follows from ping and pong", () => {
  const wire = openUp();
  const t1 = world.now;
  world.pass(40);
  world.socket.says({ type: "pong", t1, t2: t1 + 5020, t3: t1 + 5020 });
  assert.equal(wire.clock.nowMs(), t1 + 40 + 5000);
  assert.equal(wire.clock.errorMs(), 20);
});

/** A ping that is answered after 40 ms on the way, by a server whose clock is so far ahead of ours. */
const answered = (/** @type {number} */ aheadMs) => {
  const t1 = ofType("ping").at(-1).t1;
  world.pass(40);
  world.socket.says({ type: "pong", t1, t2: t1 + 20 + aheadMs, t3: t1 + 20 + aheadMs });
};

test("the server's clock is kept over a lost link: a slow first answer does not replace a quick one", () => {
  const wire = openUp();
  answered(90_000);
  world.socket.onclose({});
  world.pass(300);
  assert.equal(wire.clock.at(world.now), world.now + 90_000, "and it is known while there is no link");
  assert.ok(wire.clock.errorMs() < 21);
});

test("setting the device's clock by 90 s in mid-heat moves nothing, and is in doubt until the next answer", () => {
  let stepMs = 0;
  let known = 0;
  const ports = { ...world.ports(), wall: () => world.now + stepMs };
  const wire = openWire({ role: "lane", lane: 1, sender: () => "lane-1-a", onClock: () => (known += 1) }, ports);
  world.socket.onopen({});
  world.socket.says({ type: "welcome", role: "lane", mode: "live", speed: 1 });
  assert.equal(wire.clock.errorMs(), undefined, "nothing is known before the first answer");
  answered(5000);
  assert.equal(known, 1);
  stepMs = 90_000;
  assert.equal(wire.clock.errorMs(), undefined, "which of the two clocks is wrong is not known yet");
  assert.equal(wire.clock.at(world.now), world.now + 5000);
  answered(5000);
  assert.equal(known, 2);
  assert.equal(wire.clock.at(world.now), world.now + 5000);
  assert.ok(wire.clock.errorMs() < 21);
});

test("a device that pauses between the readings of its two clocks was not set", () => {
  let pauseMs = 0;
  const ports = world.ports();
  const wall = () => {
    const read = world.now;
    world.now += pauseMs;
    pauseMs = 0;
    return read;
  };
  const wire = openWire({ role: "lane", lane: 1, sender: () => "lane-1-a" }, { ...ports, wall });
  world.socket.onopen({});
  world.socket.says({ type: "welcome", role: "lane", mode: "live", speed: 1 });
  answered(5000);
  pauseMs = 300;
  assert.ok(wire.clock.errorMs() < 21, "taps go on being counted, link or none");
});

test("a page's own clock that slept for a minute is found out by the next answer", () => {
  let sleptMs = 0;
  const ports = { ...world.ports(), wall: () => world.now + sleptMs };
  const wire = openWire({ role: "lane", lane: 1, sender: () => "lane-1-a" }, ports);
  world.socket.onopen({});
  world.socket.says({ type: "welcome", role: "lane", mode: "live", speed: 1 });
  answered(5000);
  sleptMs = 60_000;
  assert.equal(wire.clock.errorMs(), undefined);
  answered(65_000);
  assert.equal(wire.clock.at(world.now), world.now + 65_000);
});

test("before the first answer the time of a frame is shown, and is not known", () => {
  const wire = openUp();
  world.socket.says({ ...SNAPSHOT, unix_ms: world.now + 7000 });
  assert.equal(wire.clock.nowMs(), world.now + 7000);
  assert.equal(wire.clock.errorMs(), undefined);
});

test("a link that stays silent though pinged is dropped after twelve seconds", () => {
  openUp();
  const half = world.socket;
  world.pass(11_900);
  assert.equal(half.closed, false);
  world.pass(1100);
  assert.equal(half.closed, true);
  assert.equal(links[links.length - 1].up, false);
  world.pass(250);
  assert.equal(world.sockets.length, 2);
});

test("any word from the server keeps the link", () => {
  openUp();
  for (let second = 0; second < 60; second += 5) {
    world.pass(5000);
    world.socket.says({ ...SNAPSHOT, number: second });
  }
  assert.equal(world.sockets.length, 1);
});

test("a connection that never opens is given up and tried again", () => {
  open();
  world.pass(14_000);
  assert.equal(world.sockets.length, 2);
});

test("what a dropped link still says is not heard", () => {
  openUp();
  const old = world.socket;
  world.pass(14_000);
  old.says(SNAPSHOT);
  assert.deepEqual(frames, []);
});

test("saying hello again asks for the sender's name anew", () => {
  let name = "lane-4-old";
  const wire = open({ sender: () => name });
  world.socket.onopen();
  name = "lane-4-new";
  wire.restart();
  assert.equal(world.sockets[0].closed, true);
  world.socket.onopen();
  assert.equal(world.socket.sent[0].sender, "lane-4-new");
});

test("views can be added and dropped while the link is up", () => {
  const wire = openUp();
  wire.watch("gaps", "h2");
  wire.watch("gaps", "h2");
  wire.unwatch("heat", "floor");
  assert.deepEqual(world.socket.sent.slice(3), [
    { type: "watch", view: "gaps", heat: "h2", packed: true },
    { type: "unwatch", view: "heat", heat: "floor" },
  ]);
  world.socket.says(SNAPSHOT);
  assert.deepEqual(frames, []);
});

test("what is watched is asked for, and called off, in the page's language", () => {
  const wire = open({ language: "fr" });
  world.socket.onopen();
  wire.unwatch("heat", "floor");
  const asked = world.socket.sent.filter(({ view }) => view === "heat");
  assert.deepEqual(asked.map(({ type, language }) => [type, language]), [["watch", "fr"], ["unwatch", "fr"]]);
});

test("a view asked for between hello and welcome is asked of the server, and one dropped then is called off", () => {
  const wire = open();
  world.socket.onopen();
  const before = world.socket.sent.length;
  wire.watch("gaps", "h2");
  wire.unwatch("gaps", "h2");
  assert.deepEqual(world.socket.sent.slice(before), [
    { type: "watch", view: "gaps", heat: "h2", packed: true },
    { type: "unwatch", view: "gaps", heat: "h2" },
  ]);
});

test("a view asked for before hello is said with it, once", () => {
  const wire = open();
  wire.watch("gaps", "h2");
  assert.deepEqual(world.socket.sent, []);
  world.socket.onopen();
  assert.equal(world.socket.sent.filter(({ view }) => view === "gaps").length, 1);
});

test("a closed wire stays closed", () => {
  const wire = openUp();
  wire.close();
  world.pass(60_000);
  assert.equal(world.sockets.length, 1);
  assert.equal(world.socket.closed, true);
  assert.deepEqual(world.networks, []);
});

test("the address of the wire follows the page's own", () => {
  assert.equal(wireUrl({ protocol: "http:", host: "10.0.0.5:8400" }), "ws://10.0.0.5:8400/wire");
  assert.equal(wireUrl({ protocol: "https:", host: "score.example" }), "wss://score.example/wire");
});

test("the key comes from the fragment alone", () => {
  assert.equal(keyFrom({ hash: "#key=a%2Bb" }), "a+b");
  assert.equal(keyFrom({ hash: "" }), undefined);
});
