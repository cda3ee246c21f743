// What everything else stands on: elements from text, numbers as the trade writes them, light and dark.

const SVG = "http://www.w3.org/2000/svg";
const data = JSON.parse(document.getElementById("data").textContent);

/** An element; texts become text nodes, never markup. */
function make(tag, properties, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties || {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children.flat(Infinity)) {
    if (child !== null && child !== undefined) element.append(child);
  }
  return element;
}

/** Words from a study, each way of writing by itself. */
function words(text) {
  return make("bdi", {}, text);
}

/** A figure with so many significant digits; a dash for none. */
function number(value, digits = 3) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  if (value === 0) return "0";
  const rounded = Number(value.toExponential(digits - 1));
  const places = digits - 1 - Math.floor(Math.log10(Math.abs(rounded)));
  if (Math.abs(rounded) >= 1e6) return rounded.toExponential(digits - 1);
  return rounded.toFixed(Math.min(Math.max(places, 0), 20)).replace("-", "−");
}

/** A column's figure: what is ordered in steps in full. */
function figure(column, value) {
  if (column.full && value !== null) return String(Number(value.toPrecision(6)));
  return number(value, column.kind === "variable" ? 4 : 3);
}

/** A number with thousands apart. */
function count(value) {
  return value.toLocaleString("en");
}

const theme = {
  chosen: "auto",
  printing: false,
  listeners: [],
  dark() {
    if (this.printing) return false;
    if (this.chosen === "auto") return matchMedia("(prefers-color-scheme: dark)").matches;
    return this.chosen === "dark";
  },
  palette() {
    return data.palette[this.dark() ? "dark" : "light"];
  },
  apply() {
    const palette = this.palette();
    document.documentElement.dataset.theme = this.dark() ? "dark" : "light";
    for (const [name, colour] of Object.entries(palette)) {
      if (typeof colour === "string") document.documentElement.style.setProperty(`--${name}`, colour);
    }
    for (const listener of this.listeners) listener();
  },
};
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => theme.apply());

const TEXTS = new Set(["text", "ticktext", "name"]);

/** A copy with colours by name ("@ink") as colours of the paper. */
function painted(value, palette, key = "") {
  if (typeof value === "string") {
    const name = value.startsWith("@") && !TEXTS.has(key) ? palette[value.slice(1)] : undefined;
    if (name === undefined) return value;
    return Array.isArray(name) ? name.map((colour, k) => [k / (name.length - 1), colour]) : name;
  }
  if (Array.isArray(value)) {
    return value.length && typeof value[0] === "object" && value[0] !== null
      ? value.map((one) => painted(one, palette, key))
      : value.slice();
  }
  if (value === null || typeof value !== "object") return value;
  return Object.fromEntries(Object.entries(value).map(([name, one]) => [name, painted(one, palette, name)]));
}
