/** The errors of a gauge along its travel, with the limits they must keep: growing point by point. */

import { draw } from "./dom.js";
import { frameOf, reach, signed, through, ticks } from "./plot.js";

const WIDE = 900;
const HIGH = 420;

/** What each series is called, and the form of its mark. Forms differ, so no colour is needed. */
export const SERIES = [
  { way: "up", words: "up", mark: "M0 -9L9 7H-9Z" },
  { way: "down", words: "down", mark: "M0 9L-9 -7H9Z" },
  { way: "repeat", words: "again", mark: "M-7 0A7 7 0 1 0 7 0A7 7 0 1 0 -7 0Z" },
];

/**
 * Everything that is drawn, in pixels of a picture of 900 by 420.
 *
 * The errors' scale reaches over the limits and every point, so nothing is ever cut off.
 */
export function curveOf(curve, width = WIDE, height = HIGH) {
  const errors = curve.points.map(({ error_mm: error }) => error);
  const ends = curve.limits.flatMap(({ lower_mm: lower, upper_mm: upper }) => [lower, upper]);
  const { low, high } = reach([0, ...errors, ...ends]);
  const frame = frameOf({
    width, height, left: 92, right: 24, top: 34, bottom: 62, from: curve.from_mm, to: curve.to_mm, low, high,
  });
  const runs = [...new Set(curve.points.map(({ run }) => run))];
  const lines = runs.flatMap((run) =>
    SERIES.map(({ way, mark, words }) => {
      const points = curve.points.filter((point) => point.run === run && point.way === way);
      const places = points.map((point) => [frame.x(point.at_mm), frame.y(point.error_mm)]);
      return { run, way, words, mark, isOld: run !== curve.run, places, path: way === "repeat" ? "" : through(places) };
    }),
  ).filter(({ places }) => places.length > 0);
  return {
    width, height, frame, lines,
    limits: curve.limits.map((band) => ({
      x1: frame.x(band.from_mm), x2: frame.x(band.to_mm), lower: frame.y(band.lower_mm), upper: frame.y(band.upper_mm),
    })),
    zero: frame.y(0),
    next: curve.next_mm === null ? null : frame.x(curve.next_mm),
    along: ticks(curve.from_mm, curve.to_mm, 8).map(({ at, digits }) => ({ at: frame.x(at), digits })),
    up: ticks(low, high, 9).map(signed).map(({ at, digits }) => ({ at: frame.y(at), digits })),
  };
}

/** The curve in words, for who cannot see it. */
export function curveWords(curve) {
  const now = curve.points.filter(({ run }) => run === curve.run);
  const worst = now.reduce((most, point) => (Math.abs(point.error_mm) > Math.abs(most?.error_mm ?? 0) ? point : most), now[0]);
  const most = worst ? ` The largest error is ${worst.error} mm at ${worst.at} mm, ${worst.way}.` : "";
  const kept = curve.within ? "Every error so far is within the limits." : "Some errors are outside the limits.";
  return `Errors ${curve.run}, ${now.length} points.${most} ${kept} Permissible: ${curve.limit} mm.`;
}

/** The curve as a drawing. */
export function drawnCurve(curve) {
  const { width, height, frame, lines, limits, zero, next, along, up } = curveOf(curve);
  const { left, right, top, bottom } = frame;
  const words = (x, y, anchor, text, look = "") => draw("text", { x, y, "text-anchor": anchor, class: look }, text);
  return draw(
    "svg", { viewBox: `0 0 ${width} ${height}`, role: "img", class: "plot", "aria-label": curveWords(curve) },
    limits.flatMap(({ x1, x2, lower, upper }) => [
      draw("rect", { class: "wall", x: x1, y: top, width: x2 - x1, height: Math.max(upper - top, 0) }),
      draw("rect", { class: "wall", x: x1, y: lower, width: x2 - x1, height: Math.max(bottom - lower, 0) }),
      draw("line", { class: "edge", x1, x2, y1: upper, y2: upper }),
      draw("line", { class: "edge", x1, x2, y1: lower, y2: lower }),
    ]),
    draw("line", { class: "zero", x1: left, x2: right, y1: zero, y2: zero }),
    draw("line", { class: "axis", x1: left, x2: right, y1: bottom, y2: bottom }),
    up.map(({ at, digits }) => [
      draw("line", { class: "axis", x1: left - 8, x2: left, y1: at, y2: at }), words(left - 12, at + 7, "end", digits),
    ]).flat(),
    along.map(({ at, digits }) => [
      draw("line", { class: "axis", x1: at, x2: at, y1: bottom, y2: bottom + 8 }), words(at, bottom + 28, "middle", digits),
    ]).flat(),
    words(left, top - 12, "start", `error, mm; permissible ${curve.limit} mm`, "name"),
    words(right, height - 6, "end", "travel, mm", "name"),
    next === null ? null : draw("line", { class: "next", x1: next, x2: next, y1: top, y2: bottom }),
    next === null ? null : draw("path", { class: "next-mark", d: `M${next - 11} ${bottom + 14}L${next} ${bottom + 2}L${next + 11} ${bottom + 14}Z` }),
    lines.map(({ path, places, mark, isOld }) =>
      draw(
        "g", { class: isOld ? "old" : "fresh" },
        path ? draw("path", { class: "run", d: path }) : null,
        places.map(([x, y]) => draw("path", { class: "mark", d: mark, transform: `translate(${x} ${y})` })),
      ),
    ),
  );
}

/** What the marks mean: only those that are there. */
export function legend(curve) {
  const { lines } = curveOf(curve);
  return lines.map(({ run, words, mark, isOld }) => ({ words: `${run}, ${words}`, mark, isOld }));
}
