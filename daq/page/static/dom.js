/** Making elements from words: everything reaches the page as text, never as markup. */

/**
 * An element with attributes, and children that are elements or texts.
 *
 *     make("p", { class: "quiet" }, "Nothing yet.")
 */
export function make(name, attributes = {}, ...children) {
  const element = document.createElement(name);
  return furnished(element, attributes, children);
}

const SVG = "http://www.w3.org/2000/svg";

/** The same for an element of a drawing. */
export function draw(name, attributes = {}, ...children) {
  return furnished(document.createElementNS(SVG, name), attributes, children);
}

function furnished(element, attributes, children) {
  for (const [key, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined && value !== false) element.setAttribute(key, value === true ? "" : value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== ""));
  return element;
}

/** Remembers what was painted in an element, so that the same is not painted again. */
const painted = new WeakMap();

/**
 * Fills an element with what `content()` makes, but only if `now`, anything that JSON can write, is
 * another than the last time: what is read or touched stays where it is.
 */
export function fill(element, now, content) {
  const text = JSON.stringify(now);
  if (painted.get(element) === text) return false;
  painted.set(element, text);
  element.replaceChildren(...[content()].flat());
  return true;
}

const SHAPES = new Set(["svg", "title", "desc", "g", "rect", "circle", "line", "path", "text"]);
const LOOKS = /^(?:aria-labelledby|class|c[xy]|d|fill|font-(?:family|size|weight)|height|id|points|r|role|rx|stroke(?:-[a-z]+)?|text-anchor|transform|viewBox|width|[xy][12]?)$/;

/**
 * A drawing from the bench as elements of this page: shapes and text, and nothing that could act.
 * Null if it is no drawing.
 */
export function drawingFrom(text) {
  const root = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  return root.localName === "svg" && root.namespaceURI === SVG ? copied(root) : null;
}

function copied(from) {
  const to = document.createElementNS(SVG, from.localName);
  for (const { name, value } of from.attributes) if (LOOKS.test(name)) to.setAttribute(name, value);
  for (const child of from.childNodes) {
    if (child.nodeType === Node.TEXT_NODE) to.append(child.data);
    else if (child.nodeType === Node.ELEMENT_NODE && SHAPES.has(child.localName)) to.append(copied(child));
  }
  return to;
}
