/**
 * The limits scale: two walls stand on the limits, and the needle must be between them. At rest the
 * needle carries a band as wide as its uncertainty, U with k = 2, on either side.
 *
 * What the scale spans follows from the specification alone, so it stands still while the value
 * moves. A value beyond its ends is not drawn at the end: arrows and words say where it is.
 */

const SVG = "http://www.w3.org/2000/svg";
const MM = { mm: 1, in: 25.4 };

/** How far the scale reaches at least, in display steps, where the aim and the limits coincide. */
const LEAST_REACH_STEPS = 50;

const NUMBERS = /[+\-−]?\d+(?:\.\d+)?/g;

/** The deviations at the two ends, mm; null where there is nothing to measure against. */
export function reachOf(view) {
  const isLimited = isNumber(view.lower_mm) || isNumber(view.upper_mm);
  if (!isLimited && !isNumber(view.aim_mm)) return null;
  const ends = [view.aim_mm ?? 0, view.lower_mm, view.upper_mm].filter(isNumber);
  const [low, high] = [Math.min(...ends), Math.max(...ends)];
  const span = high - low || LEAST_REACH_STEPS * (millimetres(view.step, view.unit) ?? 0.001);
  const margin = ends.length === 3 ? span / 2 : span;
  return { from: low - margin, to: high + margin };
}

/**
 * Everything the scale marks, as shares of its width from 0 to 1.
 *
 * @returns {aim, lower, upper, needle, beyond, band} or null without a scale. `beyond` is "left",
 *   "right" or ""; without a fresh number `needle` and `band` are null and `beyond` is "".
 */
export function scaleOf(view) {
  const reach = reachOf(view);
  if (reach === null) return null;
  const share = (mm) => (mm - reach.from) / (reach.to - reach.from);
  const held = (mm) => Math.min(Math.max(share(mm), 0), 1);
  const value = view.fresh && isNumber(view.deviation_mm) ? view.deviation_mm : null;
  const beyond = value === null ? "" : value < reach.from ? "left" : value > reach.to ? "right" : "";
  const isOn = value !== null && beyond === "";
  const [settled, spread] = [millimetres(view.settled, view.unit), millimetres(view.U, view.unit)];
  const hasBand = isOn && view.at_rest && settled !== null && spread !== null;
  return {
    aim: share(view.aim_mm ?? 0),
    lower: isNumber(view.lower_mm) ? share(view.lower_mm) : null,
    upper: isNumber(view.upper_mm) ? share(view.upper_mm) : null,
    needle: isOn ? share(value) : null,
    beyond,
    band: hasBand ? [held(settled - spread), held(settled + spread)] : null,
  };
}

/** What stands over the two limits and the aim: the figures of the view's own words, never others. */
export function labelsOf(view) {
  const said = (view.limits ?? "").match(NUMBERS) ?? [];
  const lower = isNumber(view.lower_mm) ? (said.shift() ?? "") : "";
  const upper = isNumber(view.upper_mm) ? (said.shift() ?? "") : "";
  return { lower, upper, aim: (view.aim_mm ?? 0) === 0 ? "0" : "aim" };
}

/** Millimetres of a length in words, as "+0.0803 mm" or "0.0001"; null if there is none. */
export function millimetres(text, unit) {
  if (typeof text !== "string") return null;
  const [figure] = text.match(NUMBERS) ?? [];
  const mm = figure === undefined ? NaN : Number(figure.replace("−", "-")) * (MM[unit] ?? NaN);
  return Number.isFinite(mm) ? mm : null;
}

function isNumber(value) {
  return typeof value === "number" && Number.isFinite(value);
}

function drawn(parent, name, className, attributes = {}) {
  const element = document.createElementNS(SVG, name);
  element.setAttribute("class", className);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  parent.append(element);
  return element;
}

const percent = (share) => `${Math.round(share * 100000) / 1000}%`;

/**
 * The scale in `box`: `show(view)` draws a BENCH view, null takes the needle away and leaves the walls.
 * It is a drawing; the number and the headline say the same in words.
 */
export function needle(box) {
  const svg = drawn(box, "svg", "needle", { "aria-hidden": "true" });
  const fixed = drawn(svg, "g", "fixed");
  // The needle stands in a slit of its own, so that it is seen in front of a wall too.
  const halo = drawn(svg, "rect", "halo", { y: "27%", height: "38%", width: "2%" });
  const aim = drawn(svg, "line", "aim", { y1: "28%", y2: "74%" });
  const moving = drawn(svg, "g", "moving");
  // Figures above, the needle through the middle, its foot and the words "off the scale" below.
  const band = drawn(moving, "rect", "band", { y: "68%", height: "12%", rx: "2" });
  const hand = drawn(moving, "rect", "hand", { y: "24%", height: "62%", width: "0.8%", rx: "3" });
  const beyond = drawn(svg, "g", "beyond");
  const clear = drawn(beyond, "rect", "halo", { y: "27%", height: "38%", width: "10%" });
  const arrows = [0, 1, 2].map(() => {
    const holder = drawn(beyond, "svg", "", { y: "29%", height: "34%", width: "2.8%", viewBox: "0 0 26 40" });
    return { holder, path: drawn(holder, "path", "") };
  });
  const words = drawn(beyond, "text", "", { y: "98%" });
  words.textContent = "off the scale";
  let setOut = "";
  let stands = "";

  function walls(view) {
    const scale = scaleOf(view);
    const labels = labelsOf(view);
    const now = JSON.stringify([scale?.lower, scale?.upper, scale?.aim, labels]);
    if (now === setOut) return;
    setOut = now;
    fixed.replaceChildren();
    aim.style.display = scale === null ? "none" : "inline";
    if (scale === null) return;
    const middle = { y: "28%", height: "36%" };
    drawn(fixed, "line", "base", { x1: "0", x2: "100%", y1: "64%", y2: "64%" });
    if (scale.lower !== null) wall(0, scale.lower, scale.lower, middle, labels.lower, "end");
    if (scale.upper !== null) wall(scale.upper, 1, scale.upper, middle, labels.upper, "start");
    const at = percent(scale.aim);
    aim.setAttribute("x1", at);
    aim.setAttribute("x2", at);
    drawn(fixed, "text", "", { x: at, y: "20%", "text-anchor": "middle" }).textContent = labels.aim;
  }

  function wall(from, to, edge, middle, label, anchor) {
    drawn(fixed, "rect", "wall", { x: percent(from), width: percent(to - from), ...middle });
    const at = percent(edge);
    drawn(fixed, "line", "edge", { x1: at, x2: at, y1: "23%", y2: "72%" });
    const text = drawn(fixed, "text", "", { x: at, y: "20%", "text-anchor": anchor });
    text.textContent = label;
  }

  function place(view) {
    const scale = view === null ? null : scaleOf(view);
    const outcome = view?.at_rest ? (view.outcome ?? "") : "";
    const now = JSON.stringify([scale?.needle, scale?.beyond, scale?.band, outcome]);
    if (now === stands) return;
    stands = now;
    svg.dataset.outcome = outcome;
    svg.dataset.needle = scale === null ? "none" : scale.beyond || (scale.needle === null ? "none" : "on");
    const isOn = scale !== null && scale.needle !== null;
    moving.style.display = halo.style.display = isOn ? "inline" : "none";
    beyond.style.display = scale?.beyond ? "inline" : "none";
    if (isOn) {
      halo.setAttribute("x", percent(scale.needle - 0.01));
      hand.setAttribute("x", percent(scale.needle - 0.004));
      band.style.display = scale.band ? "inline" : "none";
      if (scale.band) {
        band.setAttribute("x", percent(scale.band[0]));
        band.setAttribute("width", percent(Math.max(scale.band[1] - scale.band[0], 0.004)));
      }
    } else if (scale?.beyond) {
      off(scale.beyond === "left");
    }
  }

  function off(isLeft) {
    arrows.forEach(({ holder, path }, place) => {
      holder.setAttribute("x", percent(isLeft ? 0.03 * place : 0.972 - 0.03 * place));
      path.setAttribute("d", isLeft ? "M0 20L26 0V40Z" : "M26 20L0 0V40Z");
    });
    clear.setAttribute("x", isLeft ? "0" : "90%");
    words.setAttribute("x", isLeft ? "0" : "100%");
    words.setAttribute("text-anchor", isLeft ? "start" : "end");
  }

  return {
    show(view) {
      if (view !== null) walls(view);
      place(view);
    },
  };
}
