/** The readings behind a capture over time, with its value, its uncertainty and its limits. */

import { draw } from "./dom.js";
import { frameOf, reach, ticks } from "./plot.js";

const WIDE = 900;
const HIGH = 380;

/**
 * Everything that is drawn, in pixels. The scale reaches over readings, value and uncertainty; a limit
 * that is far off is not drawn, and `beyond` says so in words: else the readings would be one flat line.
 */
export function traceOf(trace, width = WIDE, height = HIGH) {
  const lengths = trace.points.map(([, mm]) => mm);
  const { value_mm: value, U_mm: spread, step_mm: step } = trace;
  const own = [...lengths, value - spread, value + spread];
  const span = Math.max(Math.max(...own) - Math.min(...own), 6 * step);
  const marks = ["lower", "nominal", "upper"]
    .map((name) => ({ name, at: trace[`${name}_mm`], digits: trace.marks[name] }))
    .filter(({ at }) => at !== null && at !== undefined);
  const isNear = ({ at }) => Math.abs(at - value) <= 6 * span;
  const near = marks.filter(isNear);
  const { low, high } = reach([...own, ...near.map(({ at }) => at)], 0.12, 6 * step);
  const to = Math.max(trace.points.at(-1)[0], 0.001);
  const frame = frameOf({ width, height, left: 120, right: 130, top: 30, bottom: 56, from: 0, to, low, high });
  return {
    width, height, frame,
    dots: trace.points.map(([s, mm]) => [frame.x(s), frame.y(mm)]),
    value: frame.y(value),
    spread: [frame.y(value + spread), frame.y(value - spread)],
    marks: near.map(({ name, at, digits }) => ({ name, digits, y: frame.y(at) })),
    beyond: marks.filter((each) => !isNear(each)).map(({ name, digits }) => `${name} ${digits} mm`),
    along: ticks(0, to, 6).map(({ at, digits }) => ({ at: frame.x(at), digits })),
    up: ticks(low, high, 5).map(({ at, digits }) => ({ at: frame.y(at), digits })),
  };
}

/** The trace in words. */
export function traceWords(trace) {
  const { points, marks } = trace;
  const seconds = points.at(-1)[0];
  const { beyond } = traceOf(trace);
  const off = beyond.length > 0 ? ` Not in the picture: ${beyond.join(", ")}.` : "";
  return `${points.length} readings in ${seconds.toFixed(2)} s. Value ${marks.value} mm, U ${marks.U} mm (k = 2).${off}`;
}

/** The trace as a drawing. */
export function drawnTrace(trace) {
  const { width, height, frame, dots, value, spread, marks, along, up } = traceOf(trace);
  const { left, right, top, bottom } = frame;
  const words = (x, y, anchor, text, look = "") => draw("text", { x, y, "text-anchor": anchor, class: look }, text);
  const across = (y, look) => draw("line", { class: look, x1: left, x2: right, y1: y, y2: y });
  return draw(
    "svg", { viewBox: `0 0 ${width} ${height}`, role: "img", class: "plot", "aria-label": traceWords(trace) },
    marks.map(({ name, y }) => wall(name, y, frame)),
    draw("rect", { class: "spread", x: left, y: spread[0], width: right - left, height: Math.max(spread[1] - spread[0], 1) }),
    across(value, "value"),
    marks.map(({ name, y }) => across(y, name === "nominal" ? "target" : "edge")),
    draw("line", { class: "axis", x1: left, x2: right, y1: bottom, y2: bottom }),
    up.map(({ at, digits }) => [
      draw("line", { class: "axis", x1: left - 8, x2: left, y1: at, y2: at }), words(left - 12, at + 7, "end", digits),
    ]).flat(),
    along.map(({ at, digits }) => [
      draw("line", { class: "axis", x1: at, x2: at, y1: bottom, y2: bottom + 8 }), words(at, bottom + 28, "middle", digits),
    ]).flat(),
    dots.map(([x, y]) => draw("circle", { class: "reading", cx: x, cy: y, r: dots.length > 150 ? 2.5 : 4.5 })),
    words(right + 10, value + 7, "start", "value", "name"),
    marks.filter(({ y }) => Math.abs(y - value) > 24).map(({ name, y }) => words(right + 10, y + 7, "start", name)),
    words(left - 12, top - 10, "end", "mm", "name"),
    words(right, height - 6, "end", "time, s", "name"),
  );
}

/** What lies outside a limit, as far as the picture reaches. */
function wall(name, y, { left, right, top, bottom }) {
  if (name === "nominal") return null;
  const [from, to] = name === "upper" ? [top, y] : [y, bottom];
  return draw("rect", { class: "wall", x: left, y: from, width: right - left, height: Math.max(to - from, 0) });
}
