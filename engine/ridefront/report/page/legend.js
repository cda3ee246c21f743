// What stands about a figure's panels: its legend, its numbers as tables, its source.

const SHAPES = {
  circle: "M15 3a5 5 0 1 0 .01 0z",
  square: "M10 3h10v10h-10z",
  diamond: "M15 2l6 6-6 6-6-6z",
  "triangle-up": "M15 2l6 11h-12z",
  "triangle-down": "M15 14l6-11h-12z",
  pentagon: "M15 2l6 5-2.4 7h-7.2l-2.4-7z",
  x: "M10 5l2-2 3 3 3-3 2 2-3 3 3 3-2 2-3-3-3 3-2-2 3-3z",
  "line-ew": "M8 8h14",
};

/** What a series looks like, for the legend. */
function sample(entry) {
  const picture = document.createElementNS(SVG, "svg");
  picture.setAttribute("viewBox", "0 0 30 16");
  picture.setAttribute("aria-hidden", "true");
  const path = document.createElementNS(SVG, "path");
  const mark = entry.marker && SHAPES[entry.marker];
  path.setAttribute("d", mark || "M0 8h30");
  const colour = `var(--${entry.colour})`;
  path.style.stroke = colour;
  path.style.fill = mark && !entry.open ? colour : "none";
  path.style.strokeWidth = mark ? (entry.open ? 1.6 : 0) : entry.width;
  if (!mark && entry.dash.length) path.style.strokeDasharray = entry.dash.join(" ");
  picture.append(path);
  return picture;
}

function legendOf(figure, own) {
  if (figure.legend.length < 2) return null;
  const buttons = figure.legend.map((entry) => {
    const button = make("button", { type: "button", "aria-pressed": "true" }, sample(entry), words(entry.name));
    button.addEventListener("click", () => {
      const shown = button.getAttribute("aria-pressed") === "false";
      button.setAttribute("aria-pressed", String(shown));
      own.forEach((plot) => plot.toggle(entry.name, shown));
    });
    return button;
  });
  return make("div", { class: "legend", role: "group", "aria-label": "shown in the figure" }, buttons);
}

const MOST_ROWS = 60;

/** A figure's numbers, made when somebody wants to read them. */
function numbersOf(figure) {
  const details = make("details", {}, make("summary", {}, "the figure as tables"));
  details.addEventListener("toggle", () => {
    if (!details.open || details.childElementCount > 1) return;
    for (const panel of figure.panels) {
      panel.series.forEach((series, k) => details.append(seriesTable(panel, series, panel.data[k])));
    }
  });
  return details;
}

function seriesTable(panel, series, trace) {
  const named = (axis, value) => (axis.names.length ? axis.names[value] ?? number(value, 4) : number(value, 4));
  const head = (axis) => (axis.label || "at") + (axis.unit ? ` [${axis.unit}]` : "");
  const rows = trace.x.map((x, k) => k).filter((k) => trace.x[k] !== null && trace.y[k] !== null);
  const body = rows.slice(0, MOST_ROWS).map((k) => {
    const design = series.designs === null ? "" : String(series.designs.length === 1 ? series.designs[0] : series.designs[k]);
    return make("tr", {}, make("td", {}, design), make("td", {}, words(named(panel.x, trace.x[k]))), make("td", {}, words(named(panel.y, trace.y[k]))));
  });
  const more = rows.length > MOST_ROWS ? `; ${MOST_ROWS} of ${count(rows.length)} points` : "";
  return make(
    "div",
    { class: "scroller" },
    make(
      "table",
      {},
      make("caption", {}, words((panel.title ? `${panel.title}: ` : "") + series.name + more)),
      make("thead", {}, make("tr", {}, ["setup", head(panel.x), head(panel.y)].map((text) => make("th", { scope: "col" }, words(text))))),
      make("tbody", {}, body),
    ),
  );
}

/** A figure with all that belongs to it. */
function figureElement(figure, result, level) {
  const own = figure.panels.map((panel) => new Plot(figure, panel, result));
  const panels = figure.panels.map((panel, k) =>
    make(
      "div",
      { class: "panel", role: "group", "aria-label": `${panel.title || figure.title}: ${panel.y.label} over ${panel.x.label}` },
      panel.title ? make("p", { class: "panel-title" }, words(panel.title)) : null,
      own[k].place,
    ),
  );
  const grid = make("div", { class: "panels" }, panels);
  grid.style.setProperty("--columns", figure.columns);
  const heading = make(`h${level}`, {}, words(figure.title));
  const source = make("figcaption", {}, "from ", words(figure.source));
  return make("figure", { "aria-label": figure.title, "data-name": figure.name }, heading, legendOf(figure, own), grid, source, numbersOf(figure));
}
