/**
 * The number as a drawing: own strokes, so that every screen shows the same figures, every figure
 * has the same width, and nothing jumps while somebody turns a screw.
 *
 * All strokes are centre lines in units of a hundredth of the height.
 */

const HIGH = 100;
const SVG = "http://www.w3.org/2000/svg";

/** Thickness of a stroke: a sixth of the height reads best from far away. */
export const WEIGHT = 16.5;

/** How wide a figure may be drawn, against its height. Narrower than that it is drawn smaller. */
export const NARROWEST = 0.5;
export const WIDEST = 0.68;

const SPACE = 8;
const POINT = 22;
const SIGN = 0.86;

/** The place of the sign in `text` as it is drawn: where a sign may stand, and none does. */
const BLANK = new Set([" ", "\u2007"]);

/** One figure as path data, `wide` units wide; "" for a blank, and for what is no figure. */
export function strokes(figure, wide) {
  const half = WEIGHT / 2;
  const [l, r, t, b] = [half, wide - half, half, HIGH - half];
  const [x, y] = [wide / 2, HIGH / 2];
  const q = (r - l) / 2;
  const f = (value) => Math.round(value * 100) / 100;
  const draw = (...parts) => parts.map((part) => (typeof part === "number" ? f(part) : part)).join(" ");
  const turn = (across, down, toX, toY, way = 1) => draw("A", across, down, 0, 0, way, toX, toY);
  const upper = 46; // where the two halves of a figure meet, a little above the middle
  switch (figure) {
    case "0":
      return draw("M", l, t + q, turn(q, q, r, t + q), "V", b - q, turn(q, q, l, b - q), "Z");
    case "1":
      return draw("M", x - q * 0.85, t + 19, "L", x + 3, t + 1, "V", HIGH);
    case "2":
      return draw("M", l, t + q, turn(q, q, r, t + q), "C", r, 58, l, 62, l, b, "H", wide);
    case "3": {
      const [u, d] = [(upper - t) / 2, (b - upper) / 2];
      return draw(
        "M", l + 1, t + u * 0.8, "C", l + 4, t + 4, x - q * 0.5, t, x, t,
        turn(q - 2, u, x, upper), "H", x - 6, "M", x, upper,
        turn(q, d, x, b), "C", x - q * 0.6, b, l + 2, b - 5, l, b - d * 0.75,
      );
    }
    case "4":
      return draw("M", r - 6, HIGH, "V", t, "L", l, 70, "H", wide);
    case "5": {
      const d = (b - upper + 8) / 2;
      return draw(
        "M", wide - 2, t, "H", l + 2, "L", l, upper, "C", l + 5, upper - 6, x - 6, upper - 8, x, upper - 8,
        turn(q, d, x, b), "C", x - q * 0.6, b, l + 2, b - 5, l, b - d * 0.6,
      );
    }
    case "6":
      return draw(
        "M", r - 2, t + 16, "C", r - 6, t + 4, x + q * 0.5, t, x, t, turn(q, q, l, t + q, 0),
        "V", b - q, turn(q, q, r, b - q, 0), turn(q, q, l, b - q, 0),
      );
    case "7":
      return draw("M", 0, t, "H", r, "C", r - 2, t + 22, x - 4, y, x - 5, HIGH);
    case "8": {
      const [u, d] = [(upper - t) / 2, (b - upper) / 2];
      return draw(
        "M", x, upper, turn(q - 3, u, x, t), turn(q - 3, u, x, upper), turn(q, d, x, b), turn(q, d, x, upper), "Z",
      );
    }
    case "9":
      return draw(
        "M", l + 2, b - 16, "C", l + 6, b - 4, x - q * 0.5, b, x, b, turn(q, q, r, b - q, 0),
        "V", t + q, turn(q, q, l, t + q, 0), turn(q, q, r, t + q, 0),
      );
    case "-":
    case "−":
      return draw("M", 2, y, "H", wide - 2);
    case "+": {
      const arm = wide / 2 - 2;
      return draw("M", 2, y, "H", wide - 2, "M", x, y - arm, "V", y + arm);
    }
    case ".": {
      const [left, high] = [(wide - WEIGHT * 1.2) / 2, WEIGHT * 0.6];
      return draw("M", left, HIGH - high, "h", WEIGHT * 1.2);
    }
    default:
      return "";
  }
}

/**
 * Where each character of a number stands, and how wide all of it is.
 *
 * The sign has a cell whether there is one or not. Room that is kept for more figures before the
 * point is given up where it is blank: the point then stays where it is, for the right edge does.
 *
 * @param text the number with its blanks, as `" +0.080"`.
 * @param ratio width of a figure against its height.
 */
export function cells(text, ratio) {
  const chars = [...text].filter((char) => !BLANK.has(char));
  const isSigned = chars.length > 0 && "+-−".includes(chars[0]);
  const all = isSigned ? chars : [" ", ...chars];
  const wide = HIGH * ratio;
  let at = 0;
  const placed = all.map((char, place) => {
    const width = char === "." ? POINT : place === 0 ? wide * SIGN : wide;
    const cell = { char, at, width };
    at += width + SPACE;
    return cell;
  });
  return { placed, width: at - SPACE, height: HIGH };
}

/** How wide figures are drawn to fill a box best, against their height; never too narrow to read. */
export function ratioFor(text, boxWidth, boxHeight) {
  if (!(boxWidth > 0 && boxHeight > 0)) return WIDEST;
  const { width: least } = cells(text, 0);
  const { width: one } = cells(text, 1);
  const wanted = (HIGH * boxWidth) / boxHeight;
  return Math.min(Math.max((wanted - least) / (one - least), NARROWEST), WIDEST);
}

/** A sign as path data in a box of 100 by 100; "" where there is none. */
export const MARKS = {
  "↑": "M50 98V14M16 48L50 14L84 48",
  "↓": "M50 2V86M16 52L50 86L84 52",
  "↷": "M16 98V46A27 27 0 0 1 70 46V78M44 54L70 80L96 54",
  "↶": "M84 98V46A27 27 0 0 0 30 46V78M56 54L30 80L4 54",
  "✓": "M8 54L38 84L92 18",
  "×": "M14 14L86 86M86 14L14 86",
  "‖": "M30 8V92M70 8V92",
  "?": "M22 34A28 26 0 1 1 60 57Q50 61 50 70M50 82V98",
};

function drawn(parent, name, className = "") {
  const element = document.createElementNS(SVG, name);
  if (className) element.setAttribute("class", className);
  parent.append(element);
  return element;
}

/**
 * A number drawn in `box`. `show(text)` draws `" +0.080"`, null takes it away; `fit()` after the box
 * has changed its size. The drawing is hidden from screen readers: put the text beside it.
 */
export function numeral(box) {
  const svg = drawn(box, "svg", "numeral");
  svg.setAttribute("aria-hidden", "true");
  svg.setAttribute("stroke-width", WEIGHT);
  svg.setAttribute("preserveAspectRatio", "xMaxYMid"); // the last figure stays where it is
  const paths = [];
  let size = [0, 0];
  let text = null;
  let shape = "";

  function setOut(placed, width, ratio) {
    const now = `${placed.map(({ char }) => (char === "." ? "." : "0")).join("")}:${ratio}`;
    if (now === shape) return;
    shape = now;
    svg.setAttribute("viewBox", `0 0 ${width} ${HIGH}`);
    while (paths.length < placed.length) paths.push({ element: drawn(svg, "path"), char: "" });
    paths.forEach((path, place) => {
      path.char = "";
      path.element.setAttribute("d", "");
      if (placed[place]) path.element.setAttribute("transform", `translate(${placed[place].at} 0)`);
    });
  }

  function draw() {
    if (text === null) {
      svg.style.visibility = "hidden";
      return;
    }
    const ratio = Math.round(ratioFor(text, ...size) * 1000) / 1000;
    const { placed, width } = cells(text, ratio);
    setOut(placed, width, ratio);
    placed.forEach(({ char, width: wide }, place) => {
      if (paths[place].char === char) return;
      paths[place].char = char;
      paths[place].element.setAttribute("d", strokes(char, wide));
    });
    svg.style.visibility = "visible";
  }

  function fit() {
    const { width, height } = box.getBoundingClientRect();
    size = [width, height];
    draw();
  }

  if (typeof ResizeObserver === "function") new ResizeObserver(fit).observe(box);
  return {
    fit,
    show(now) {
      if (now === text) return;
      text = now;
      draw();
    },
  };
}

/** A sign drawn in `box`: `show("↷")`; what is not known is a blank. */
export function sign(box) {
  const svg = drawn(box, "svg", "numeral");
  svg.setAttribute("aria-hidden", "true");
  svg.setAttribute("viewBox", "0 0 100 100");
  svg.setAttribute("stroke-width", WEIGHT);
  const path = drawn(svg, "path");
  let shown = "";
  return {
    show(char) {
      if (char === shown) return;
      shown = char;
      path.setAttribute("d", MARKS[char] ?? "");
    },
  };
}
