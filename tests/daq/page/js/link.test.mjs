import assert from "node:assert/strict";
import test from "node:test";
import { connect, DEAD_MS, pauseMs, SILENT_MS, understood, wishText } from "../../../../daq/page/static/link.js";

/** A world whose clock is moved by hand: timers, sockets, and what the page was told. */
class World {
  ms = 0;
  timers = new Map();
  sockets = [];
  told = [];
  #next = 1;

  now = () => this.ms;
  after = (ms, then) => {
    this.timers.set(this.#next, { at: this.ms + ms, then });
    return this.#next++;
  };
  clear = (timer) => this.timers.delete(timer);
  onBack = (then) => (this.back = then);
  socket = () => {
    const socket = { readyState: 0, sent: [], isClosed: false };
    socket.send = (text) => socket.sent.push(JSON.parse(text));
    socket.close = () => (socket.isClosed = true);
    this.sockets.push(socket);
    return socket;
  };

  get last() {
    return this.sockets.at(-1);
  }

  /** Lets time pass; stops by itself. */
  pass(ms) {
    const end = this.ms + ms;
    for (let guard = 0; guard < 10000; guard += 1) {
      const due = [...this.timers].filter(([, { at }]) => at <= end).sort(([, a], [, b]) => a.at - b.at)[0];
      if (!due) break;
      this.timers.delete(due[0]);
      this.ms = Math.max(this.ms, due[1].at);
      due[1].then();
    }
    this.ms = end;
  }

  open() {
    this.last.readyState = 1;
  }

  state(n, other = {}) {
    this.last.onmessage({ data: JSON.stringify({ v: 1, kind: "state", n, ...other }) });
  }

  cut(reason = "") {
    this.last.readyState = 3;
    this.last.onclose({ reason });
  }
}

function linked() {
  const world = new World();
  const on = {
    onState: ({ n }) => world.told.push(`state ${n}`),
    onSilent: () => world.told.push("silent"),
    onRefused: ({ why, did }) => world.told.push(`refused ${did}: ${why}`),
    onBye: (why) => world.told.push(`bye ${why}`),
  };
  const link = connect(on, world);
  world.open();
  return { world, link };
}

test("states are handed on, and no state for nearly half a second is silence, said once", () => {
  const { world } = linked();
  world.state(1);
  world.pass(200);
  world.state(2);
  world.pass(SILENT_MS - 1);
  assert.deepEqual(world.told, ["state 1", "state 2"]);
  world.pass(1);
  assert.deepEqual(world.told, ["state 1", "state 2", "silent"]);
  world.pass(1000);
  assert.equal(world.told.length, 3);
  world.state(3);
  world.pass(SILENT_MS);
  assert.deepEqual(world.told.slice(3), ["state 3", "silent"]);
});

test("a page that never hears anything is silent too", () => {
  const { world } = linked();
  world.pass(SILENT_MS);
  assert.deepEqual(world.told, ["silent"]);
});

test("other messages are no sign that the number is still true", () => {
  const { world } = linked();
  world.state(1);
  world.pass(300);
  world.last.onmessage({ data: '{"v":1,"kind":"refused","why":"no","did":"capture"}' });
  world.pass(200);
  assert.deepEqual(world.told, ["state 1", "refused capture: no", "silent"]);
});

test("a link that is cut is silent at once and made anew after growing pauses", () => {
  const { world } = linked();
  world.state(1);
  world.cut();
  assert.deepEqual(world.told, ["state 1", "silent"]);
  const seen = [];
  for (let attempt = 0; attempt < 8; attempt += 1) {
    const from = world.ms;
    const before = world.sockets.length;
    while (world.sockets.length === before && world.ms < from + 20000) world.pass(50);
    seen.push(world.ms - from);
    world.cut();
  }
  assert.deepEqual(seen, [100, 250, 500, 1000, 2000, 4000, 4000, 4000]);
  assert.equal(pauseMs(99), 4000);
});

test("after a state the pauses start from the shortest again", () => {
  const { world } = linked();
  for (let attempt = 0; attempt < 4; attempt += 1) {
    world.cut();
    world.pass(pauseMs(attempt));
  }
  world.open();
  world.state(7);
  world.cut();
  const before = world.sockets.length;
  world.pass(pauseMs(0));
  assert.equal(world.sockets.length, before + 1);
});

test("a socket that neither speaks nor closes is given up", () => {
  const { world } = linked();
  world.state(1);
  const first = world.last;
  world.pass(2 * DEAD_MS + 200);
  assert.ok(first.isClosed && world.sockets.length >= 2);
  first.onmessage({ data: '{"v":1,"kind":"state","n":99}' });
  assert.ok(!world.told.includes("state 99"), "and what it says later is not believed");
});

test("when the page is seen again it looks at once, for timers may have slept", () => {
  const { world } = linked();
  world.state(1);
  world.ms += 5000; // no timer ran
  world.back();
  assert.deepEqual(world.told, ["state 1", "silent"]);
});

test("a wish goes out with the version and the state that was looked at, without empty fields", () => {
  const { world, link } = linked();
  world.state(41);
  assert.equal(link.ask({ do: "skip", reason: "no access", by: "" }), true);
  assert.deepEqual(world.last.sent, [{ v: 1, n: 41, do: "skip", reason: "no access" }]);
  assert.deepEqual(JSON.parse(wishText({ do: "choose", gauge: "A", n: 3 }, 9)), { v: 1, do: "choose", gauge: "A", n: 3 });
});

test("a wish to a silent bench is refused here and never sent later", () => {
  const { world, link } = linked();
  world.state(1);
  world.pass(SILENT_MS);
  assert.equal(link.ask({ do: "capture" }), false);
  assert.match(world.told.at(-1), /^refused capture: Nothing was sent/);
  world.state(2);
  assert.deepEqual(world.last.sent, []);
});

test("the end of the bench is said with its reason, and the page waits for it to come back", () => {
  const { world } = linked();
  world.state(1);
  world.last.onmessage({ data: '{"v":1,"kind":"bye","why":"stopped at the terminal"}' });
  assert.deepEqual(world.told, ["state 1", "bye stopped at the terminal", "silent"]);
  world.cut();
  world.pass(200);
  assert.equal(world.sockets.length, 2);
});

test("what cannot be understood is no state", () => {
  for (const text of ["", "{", "[]", "null", '"state"', '{"kind":"state"}', '{"v":1}']) {
    assert.equal(understood(text), null, text);
  }
  const { world } = linked();
  world.last.onmessage({ data: "{" });
  world.last.onmessage({ data: '{"v":2,"kind":"state","n":1}' });
  assert.deepEqual(world.told, ["silent"], "another version is silence, said with a reason");
});
