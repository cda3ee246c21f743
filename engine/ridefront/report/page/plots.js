// Figures: panels drawn by plotly when they come near the window, one legend, one selection.

const COARSE = matchMedia("(pointer: coarse)").matches;
const CONFIG = {
  displaylogo: false,
  showSendToCloud: false,
  plotlyServerURL: "",
  responsive: true,
  typesetMath: false,
  displayModeBar: COARSE ? false : "hover",
  modeBarButtons: [["select2d", "lasso2d", "zoom2d", "pan2d", "resetScale2d", "toImage"]],
  toImageButtonOptions: { format: "svg" },
};
const LINE_ON_PAPER = 13; // pixels of a line of a row's name
const plots = [];
let shift = false;
for (const name of ["keydown", "keyup", "pointerdown", "pointermove"]) {
  addEventListener(name, (event) => (shift = event.shiftKey), { passive: true, capture: true });
}

/** A panel of a figure: its place on the page, drawn when it is near the window, redrawn when it has changed. */
class Plot {
  constructor(figure, panel, result) {
    this.figure = figure;
    this.panel = panel;
    this.result = result;
    this.drawn = false;
    this.near = false;
    this.stale = false;
    this.hidden = new Set();
    this.place = make("div", { class: "plot" });
    this.place.style.setProperty("--lines", panel.lines);
    this.clouds = panel.series.map((series, k) =>
      Cloud.takes(panel.data[k], series) ? new Cloud(panel.data[k]) : null,
    );
    this.linked = panel.series.some((series) => series.designs !== null);
    this.where = panel.series.map(({ designs }) => {
      const found = new Map();
      if (designs !== null && designs.length > 1) {
        designs.forEach((design, k) => (found.has(design) ? found.get(design).push(k) : found.set(design, [k])));
      }
      return found;
    });
    plots.push(this);
    watcher.observe(this.place);
    this.place.plot = this;
  }

  owner(series) {
    return (this.result === null ? 0 : this.result) + series.result;
  }

  isLine(k) {
    return ["line", "steps"].includes(this.panel.series[k].kind);
  }

  /** The design of a point of a series, or null. */
  designOf(k, point) {
    const { designs } = this.panel.series[k];
    return designs === null ? null : designs[designs.length === 1 ? 0 : point];
  }

  draw() {
    const palette = theme.palette();
    const layout = painted(this.panel.layout, palette);
    const traces = this.panel.data.map((trace, k) => painted(this.clouds[k] ? Cloud.emptied(trace) : trace, palette));
    traces.forEach((trace, k) => (trace.visible = !this.hidden.has(this.panel.series[k].name)));
    const scales = this.panel.data.map((trace, k) => this.clouds[k] && Cloud.scale(trace)).filter(Boolean);
    layout.dragmode = COARSE ? false : this.linked ? "select" : "zoom";
    if (COARSE) layout.xaxis.fixedrange = layout.yaxis.fixedrange = true;
    if (theme.printing) this.onPaper(layout);
    if (selection.size) {
      const style = this.styled();
      traces.forEach((trace, k) => {
        if (style.selectedpoints[k] && !this.clouds[k]) trace.selectedpoints = style.selectedpoints[k];
        if (style["line.width"][k]) trace.line.width = style["line.width"][k];
        trace.opacity = style.opacity[k];
      });
    }
    const first = !this.drawn;
    this.drawn = true;
    this.stale = false;
    traces.push(...painted(scales, palette));
    Plotly[first ? "newPlot" : "react"](this.place, traces, layout, CONFIG);
    this.drawClouds();
    if (first) this.listen();
  }

  drawClouds() {
    this.clouds.forEach((cloud, k) => {
      if (!cloud) return;
      cloud.draw(this.place, theme.palette());
      cloud.show(!this.hidden.has(this.panel.series[k].name));
      cloud.select(this.pointsSelected(k));
    });
  }

  /** On paper: so wide that a row of panels fits, so high that the rows of a panel do, in smaller letters. */
  onPaper(layout) {
    const wide = Math.min(this.figure.columns, 2) === 1 || this.figure.panels.length === 1;
    const height = Math.max(wide ? 300 : 260, 76 + LINE_ON_PAPER * this.panel.lines);
    Object.assign(layout, { width: wide ? 680 : 335, height, autosize: false });
    for (const [axis, name] of [[layout.xaxis, "x"], [layout.yaxis, "y"]]) {
      axis.tickfont = { size: 9 };
      axis.title.font = { size: 10.5 };
      axis.title.standoff = 5;
      if (!wide) axis.title.text = this.panel.narrow[name];
    }
  }

  /** How each series looks under the selection. */
  styled() {
    const lines = this.panel.series.some((_, k) => this.isLine(k) && this.lineSelected(k));
    const found = { selectedpoints: [], opacity: [], "line.width": [] };
    this.panel.series.forEach((series, k) => {
      const line = this.panel.data[k].line;
      const chosen = this.isLine(k) && this.lineSelected(k);
      found.selectedpoints.push(this.isLine(k) ? null : this.pointsSelected(k));
      found.opacity.push(this.isLine(k) && lines && !chosen && series.designs !== null ? 0.3 : 1);
      found["line.width"].push(line ? line.width * (chosen ? 1.8 : 1) : null);
    });
    return found;
  }

  lineSelected(k) {
    const design = this.designOf(k, 0);
    return design !== null && design !== undefined && selection.has(this.owner(this.panel.series[k]), design);
  }

  /** Indices of a series' selected points; null where nothing is selected at all. */
  pointsSelected(k) {
    const series = this.panel.series[k];
    if (series.designs === null || !selection.size) return null;
    const chosen = selection.chosen[this.owner(series)];
    if (series.designs.length === 1) return chosen && chosen.has(series.designs[0]) ? this.panel.data[k].x.map((_, p) => p) : [];
    return [...(chosen || [])].flatMap((design) => this.where[k].get(design) || []);
  }

  /** Bring a drawn panel up to date with the selection; one that is not near the window later. */
  select() {
    if (!this.drawn || !this.linked) return;
    if (!this.near) {
      this.stale = true;
      return;
    }
    this.stale = false;
    this.clouds.forEach((cloud, k) => cloud && cloud.select(this.pointsSelected(k)));
    if (this.boxed) Plotly.relayout(this.place, { selections: [] });
    this.boxed = false;
    const style = this.styled();
    const linked = this.panel.series.map((_, k) => k).filter((k) => this.panel.series[k].designs !== null);
    const points = linked.filter((k) => !this.isLine(k) && !this.clouds[k] && !this.panel.data[k].text);
    const lines = linked.filter((k) => this.isLine(k));
    if (points.length) {
      Plotly.restyle(this.place, { selectedpoints: points.map((k) => style.selectedpoints[k]) }, points);
    }
    if (lines.length) {
      const opacity = lines.map((k) => style.opacity[k]);
      Plotly.restyle(this.place, { opacity, "line.width": lines.map((k) => style["line.width"][k]) }, lines);
    }
  }

  toggle(name, shown) {
    if (shown) this.hidden.delete(name);
    else this.hidden.add(name);
    const which = this.panel.series.map((_, k) => k).filter((k) => this.panel.series[k].name === name);
    if (!this.drawn || !which.length) return;
    which.forEach((k) => this.clouds[k] && this.clouds[k].show(shown));
    Plotly.restyle(this.place, { visible: shown }, which);
  }

  listen() {
    const place = this.place;
    place.on("plotly_hover", ({ points, event }) => this.hover(points[0], event));
    place.on("plotly_unhover", hideHint);
    place.on("plotly_click", ({ points }) => {
      const design = this.designOf(points[0].curveNumber, points[0].pointNumber);
      if (design !== null) selection.toggle(this.owner(this.panel.series[points[0].curveNumber]), design);
    });
    place.on("plotly_selected", (event) => {
      if (!event || !(event.range || event.lassoPoints)) return;
      this.boxed = true;
      const pair = (k, point) => [this.owner(this.panel.series[k]), this.designOf(k, point)];
      const pairs = (event.points || []).map(({ curveNumber, pointNumber }) => pair(curveNumber, pointNumber));
      this.clouds.forEach((cloud, k) => {
        if (cloud && !this.hidden.has(this.panel.series[k].name)) {
          pairs.push(...cloud.within(event).map((point) => pair(k, point)));
        }
      });
      selection.take(pairs.filter(([, design]) => design !== null), shift);
    });
    place.on("plotly_deselect", () => selection.clear());
    place.on("plotly_afterplot", () => this.drawClouds());
    place.on("plotly_relayout", (change) => {
      this.drawClouds();
      if (this.figure.shared) this.share(change);
    });
  }

  hover(point, event) {
    const series = this.panel.series[point.curveNumber];
    const design = this.designOf(point.curveNumber, point.pointNumber);
    let children = null;
    if (series.hover && series.hover[point.pointNumber] !== undefined) {
      children = series.hover[point.pointNumber].split("\n").map((line) => make("div", {}, words(line)));
    } else if (design !== null && !this.isLine(point.curveNumber)) {
      children = setupHint(this.owner(series), design);
    }
    showHint(children || pointHint(this.panel, series, point), event);
  }

  /** Panels of one column share their x axis. */
  share(change) {
    const moved = ["xaxis.range[0]", "xaxis.range[1]", "xaxis.autorange", "xaxis.range"].filter((key) => key in change);
    if (!moved.length || this.following) return;
    const at = this.figure.panels.indexOf(this.panel);
    for (const other of plots.filter((plot) => plot.figure === this.figure && plot !== this && plot.drawn)) {
      if ((this.figure.panels.indexOf(other.panel) - at) % this.figure.columns) continue;
      other.following = true;
      Plotly.relayout(other.place, Object.fromEntries(moved.map((key) => [key, change[key]]))).then(
        () => (other.following = false),
      );
    }
  }
}

const watcher = new IntersectionObserver(
  (entries) => {
    for (const { target, isIntersecting } of entries) {
      const plot = target.plot;
      plot.near = isIntersecting;
      if (isIntersecting && !plot.drawn) plot.draw();
      else if (isIntersecting && plot.stale) plot.select();
    }
  },
  { rootMargin: "300px" },
);
selection.listeners.push(() => plots.forEach((plot) => plot.select()));
theme.listeners.push(() => plots.filter((plot) => plot.drawn).forEach((plot) => plot.draw()));
