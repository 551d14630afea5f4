/** The screen itself: colours, staying awake, full screen. What a browser refuses is said in words. */

import { keep, kept } from "./keep.js";

const SCHEMES = ["auto", "light", "dark"];
const SCHEME_WORDS = { auto: "Colours: as the device", light: "Colours: light", dark: "Colours: dark" };

/** Whether the device itself is set to a light or dark look is up to it, until somebody chooses. */
export function scheme() {
  const chosen = kept("scheme", "auto");
  return SCHEMES.includes(chosen) ? chosen : "auto";
}

/** The scheme after this one. */
export function nextScheme(now) {
  return SCHEMES[(SCHEMES.indexOf(now) + 1) % SCHEMES.length];
}

/** Puts the scheme on the page. Call it early, before anything is painted. */
export function wear(chosen = scheme()) {
  if (chosen === "auto") delete document.documentElement.dataset.scheme;
  else document.documentElement.dataset.scheme = chosen;
  return SCHEME_WORDS[chosen];
}

/** A button that changes the colours and says which they are. */
export function wearBy(button) {
  button.textContent = wear();
  button.addEventListener("click", () => {
    keep("scheme", nextScheme(scheme()));
    button.textContent = wear();
  });
}

const SLEEPS = {
  insecure:
    "Over plain HTTP a browser may not keep this screen awake. Set the device to stay on while it " +
    "charges, or start the bench with --tls-cert and --tls-key and open the page by https.",
  missing: "This browser cannot keep the screen awake. Set the device to stay on while it charges.",
  refused: "This screen was not let stay awake; a low battery is a usual reason. Plug the charger in.",
};

/** Why this screen may fall asleep, in words; "" where it can be kept awake. */
export function sleepWords(isSecure, hasWakeLock) {
  if (!isSecure) return SLEEPS.insecure;
  return hasWakeLock ? "" : SLEEPS.missing;
}

/** Keeps the screen awake while the page is seen; `tell(words)` why it may fall asleep, or "". */
export function stayAwake(tell) {
  const words = sleepWords(globalThis.isSecureContext, "wakeLock" in navigator);
  tell(words);
  if (words) return;
  let lock = null;
  const hold = async () => {
    if (document.hidden || (lock !== null && !lock.released)) return;
    try {
      lock = await navigator.wakeLock.request("screen");
      tell("");
    } catch {
      tell(SLEEPS.refused);
    }
  };
  document.addEventListener("visibilitychange", hold);
  hold();
}

/** A button for the whole screen; it is not there where the device has no such thing. */
export function fullScreenBy(button) {
  const page = document.documentElement;
  if (typeof page.requestFullscreen !== "function") {
    button.hidden = true;
    return;
  }
  const tell = () => {
    button.textContent = document.fullscreenElement ? "Leave full screen" : "Full screen";
  };
  button.addEventListener("click", () => {
    const done = document.fullscreenElement ? document.exitFullscreen() : page.requestFullscreen();
    done.catch(() => {}); // the device said no; the page goes on as it is
  });
  document.addEventListener("fullscreenchange", tell);
  tell();
}
