/** Scales and ticks for drawings over a travel or over time: pure. */

/** Round values from `low` to `high`, at most `most`, each with its digits. */
export function ticks(low, high, most = 6) {
  const span = high - low;
  if (!(span > 0 && Number.isFinite(span))) return [];
  const rough = span / most;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((lead) => lead * power).find((each) => each >= rough * (1 - 1e-9));
  const places = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  const first = Math.ceil(low / step - 1e-9);
  const last = Math.floor(high / step + 1e-9);
  return Array.from({ length: last - first + 1 }, (_, number) => {
    const at = (first + number) * step;
    return { at, digits: first + number === 0 ? "0" : at.toFixed(places) };
  });
}

/** The same with a sign, as errors and deviations have one. */
export function signed(tick) {
  return tick.at > 0 ? { ...tick, digits: `+${tick.digits}` } : { ...tick, digits: tick.digits.replace("-", "−") };
}

/** The lowest and the highest of some values with a margin on both sides, as a share of the span. */
export function reach(values, margin = 0.12, least = 1e-6) {
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const span = Math.max(high - low, least);
  const spare = (span - (high - low)) / 2 + span * margin;
  return { low: low - spare, high: high + spare };
}

/** Places of a picture: `x` and `y` of values, `left`, `right`, `top`, `bottom` its frame. */
export function frameOf({ width, height, left, right, top, bottom, from, to, low, high }) {
  const round = (place) => Math.round(place * 100) / 100;
  return {
    left, top, right: width - right, bottom: height - bottom,
    x: (value) => round(left + ((value - from) / (to - from)) * (width - left - right)),
    y: (value) => round(height - bottom - ((value - low) / (high - low)) * (height - top - bottom)),
  };
}

/** Path data through places; "" where there are none. */
export function through(places) {
  return places.map(([x, y], number) => `${number ? "L" : "M"}${x} ${y}`).join("");
}
