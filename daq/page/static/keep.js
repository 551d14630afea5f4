/** What this screen remembers for itself: volume, colours, what was read. Never anything measured. */

const PREFIX = "restpoint.";

/**
 * What is remembered under a name; `otherwise` where nothing is, or where the browser keeps nothing.
 * The value has the kind of `otherwise`: whatever else stands there is not ours.
 */
export function kept(name, otherwise, store = storage()) {
  try {
    const value = JSON.parse(store.getItem(PREFIX + name));
    return typeof value === typeof otherwise && value !== null ? value : otherwise;
  } catch {
    return otherwise;
  }
}

/** Remembers a value; says whether that went well. A browser may forbid it, or be full. */
export function keep(name, value, store = storage()) {
  try {
    store.setItem(PREFIX + name, JSON.stringify(value));
    return true;
  } catch {
    return false;
  }
}

function storage() {
  try {
    return globalThis.localStorage ?? null; // the name alone may throw where it is forbidden
  } catch {
    return null;
  }
}
