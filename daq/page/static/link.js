/**
 * The link of a page to the bench program: one WebSocket, made anew for as long as the page is open.
 *
 *     const link = connect({ onState, onSilent, onRefused, onBye });
 *     link.ask({ do: "capture" });
 *
 * - `onState(state)`: what to show now; at least every 200 ms while all is well.
 * - `onSilent(why)`: nothing came for nearly half a second, or the link is cut. What is shown is no longer
 *   true: take number, needle and buttons away. Called again only if the reason becomes another.
 * - `onRefused({ why, did })`: what was asked for cannot be done.
 * - `onBye(why)`: the bench program ends; `onSilent` follows.
 *
 * A gauge that is silent is another thing: then states go on coming, and `state.view.fresh` is false.
 */

export const VERSION = 1;

/** No state for so long is silence, ms: with the time to paint, half a second is over then. */
export const SILENT_MS = 400;

/** A link that is open and silent for so long is given up and made anew, ms. */
export const DEAD_MS = 2500;

const PAUSES_MS = [100, 250, 500, 1000, 2000, 4000];

const NO_LINK = "The bench program does not answer. Is it running, and is this screen in its network?";
const STILL_NO_LINK =
  "The bench program does not let this screen in, or is not there. " +
  "If it runs, open the address that it shows once more, or scan its code.";
const OTHER_VERSION = "The bench program speaks another version than this page. Load the page again.";

/** How long to wait before the next attempt, ms; `attempt` counts from 0. */
export function pauseMs(attempt) {
  return PAUSES_MS[Math.min(Math.max(attempt, 0), PAUSES_MS.length - 1)];
}

/** A message as it came, or null if it is none of ours. */
export function understood(text) {
  try {
    const message = JSON.parse(text);
    const isOurs = typeof message === "object" && message !== null && typeof message.kind === "string";
    return isOurs && Number.isInteger(message.v) ? message : null;
  } catch {
    return null;
  }
}

/**
 * What is sent: the version, what to do, and the number of the state that the person looked at.
 * Empty fields are left out.
 */
export function wishText(wish, n) {
  const said = Object.entries({ n, ...wish }).filter(
    ([, value]) => value !== "" && value !== undefined && value !== null,
  );
  return JSON.stringify({ v: VERSION, ...Object.fromEntries(said) });
}

let newest = null;

/** Asks over the link that was made last, for pages that have one. Says whether it was sent. */
export function ask(wish) {
  return newest !== null && newest.ask(wish);
}

/** Makes the link and keeps it. `world` is for tests: where sockets and timers come from. */
export function connect(on, world = browser()) {
  newest = new Link(on, world);
  newest.open();
  return newest;
}

class Link {
  #on;
  #world;
  #socket = null;
  #attempt = 0;
  #heardMs = -Infinity;
  #isSilent = false;
  #isClosed = false;
  #watch = null;
  #again = null;
  #why = NO_LINK;
  #said = "";
  #n = 0;

  constructor(on, world) {
    this.#on = on;
    this.#world = world;
    this.#heardMs = world.now();
    this.#watchFor(SILENT_MS);
    world.onBack(() => this.#back());
  }

  open() {
    if (this.#isClosed) return;
    this.#world.clear(this.#again);
    const socket = this.#world.socket();
    this.#socket = socket;
    const openedMs = this.#world.now();
    socket.onmessage = (event) => socket === this.#socket && this.#heard(event.data);
    socket.onclose = (event) => socket === this.#socket && this.#lost(event?.reason ?? "");
    this.#again = this.#world.after(DEAD_MS, () => this.#revive(socket, openedMs));
  }

  /** Sends a wish; says whether it went. What is asked of a link that is cut is never kept for later. */
  ask(wish) {
    if (this.#isSilent || this.#socket?.readyState !== 1) {
      this.#on.onRefused?.({ why: `Nothing was sent. ${this.#why}`, did: wish.do ?? "" });
      return false;
    }
    this.#socket.send(wishText(wish, this.#n));
    return true;
  }

  close() {
    this.#isClosed = true;
    this.#world.clear(this.#watch);
    this.#world.clear(this.#again);
    const socket = this.#socket;
    this.#socket = null;
    socket?.close();
  }

  #heard(text) {
    const message = understood(text);
    if (message === null) return;
    if (message.v !== VERSION) {
      this.#silent(OTHER_VERSION);
    } else if (message.kind === "state") {
      this.#attempt = 0;
      this.#why = NO_LINK;
      this.#n = message.n;
      this.#heardMs = this.#world.now();
      this.#isSilent = false;
      this.#on.onState?.(message);
    } else if (message.kind === "refused") {
      this.#on.onRefused?.({ why: String(message.why ?? ""), did: String(message.did ?? "") });
    } else if (message.kind === "bye") {
      const why = String(message.why ?? "");
      this.#on.onBye?.(why);
      this.#silent(why || NO_LINK);
    }
  }

  #lost(reason) {
    this.#socket = null;
    this.#attempt += 1;
    if (reason) this.#why = reason;
    else if (this.#attempt > 4 && this.#why === NO_LINK) this.#why = STILL_NO_LINK;
    this.#silent(this.#why);
    this.#world.clear(this.#again);
    if (!this.#isClosed) {
      this.#again = this.#world.after(pauseMs(this.#attempt - 1), () => this.open());
    }
  }

  /** A socket that neither speaks nor closes, as when a tablet left the network. */
  #revive(socket, sinceMs) {
    if (socket !== this.#socket) return;
    const quietMs = this.#world.now() - Math.max(sinceMs, this.#heardMs);
    if (quietMs < DEAD_MS) {
      this.#again = this.#world.after(DEAD_MS - quietMs, () => this.#revive(socket, sinceMs));
      return;
    }
    this.#lost("");
    socket.close();
  }

  #silent(why) {
    const isKnown = this.#isSilent && this.#said === why;
    this.#why = this.#said = why;
    this.#isSilent = true;
    if (isKnown) return;
    this.#on.onSilent?.(why);
  }

  #watchFor(ms) {
    this.#world.clear(this.#watch);
    this.#watch = this.#world.after(ms, () => this.#check());
  }

  /** One timer for all states: it looks when the last one would be too old, and waits for the rest. */
  #check() {
    if (this.#isClosed) return;
    const quietMs = this.#world.now() - this.#heardMs;
    if (quietMs >= SILENT_MS && !this.#isSilent) this.#silent(this.#why);
    this.#watchFor(quietMs >= SILENT_MS ? 100 : Math.max(SILENT_MS - quietMs, 1));
  }

  /** The page is looked at again, or the network is back: timers may have slept meanwhile. */
  #back() {
    if (this.#isClosed) return;
    this.#check();
    if (this.#socket === null) this.open();
  }
}

function browser() {
  const scheme = globalThis.location?.protocol === "https:" ? "wss:" : "ws:";
  return {
    socket: () => new WebSocket(`${scheme}//${location.host}/live`),
    now: () => performance.now(),
    after: (ms, then) => setTimeout(then, ms),
    clear: (timer) => clearTimeout(timer),
    onBack: (then) => {
      addEventListener("online", then);
      addEventListener("pageshow", then);
      document.addEventListener("visibilitychange", () => document.hidden || then());
    },
  };
}
