// Many points of designs at once: a few paths instead of thousands of elements, so that large fronts stay quick.

const MANY = 60;
const SHADES = 32;
const MARKERS = {
  circle: (r) => `m${-r} 0a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`,
  square: (r) => `m${-r} ${-r}h${2 * r}v${2 * r}h${-2 * r}z`,
  diamond: (r) => `m0 ${-r}l${r} ${r}l${-r} ${r}l${-r} ${-r}z`,
  "triangle-up": (r) => `m0 ${-r}l${r} ${1.7 * r}h${-2 * r}z`,
  "triangle-down": (r) => `m0 ${r}l${r} ${-1.7 * r}h${-2 * r}z`,
  pentagon: (r) => `m0 ${-r}l${r} ${0.7 * r}l${-0.4 * r} ${1.1 * r}h${-1.2 * r}l${-0.4 * r} ${-1.1 * r}z`,
};

/** The points of one series over a panel's axes. */
class Cloud {
  constructor(trace) {
    this.trace = trace;
    this.open = trace.marker.symbol.endsWith("-open");
    const shape = MARKERS[trace.marker.symbol.replace("-open", "")] || MARKERS.circle;
    this.mark = shape(trace.marker.size / 2);
    this.group = document.createElementNS(SVG, "g");
    this.group.setAttribute("class", "cloud");
    this.all = document.createElementNS(SVG, "g");
    this.chosen = document.createElementNS(SVG, "g");
    this.group.append(this.all, this.chosen);
    this.group.style.pointerEvents = "none";
  }

  static takes(trace, series) {
    return series.kind === "points" && series.designs !== null && trace.x.length > MANY && !trace.text && !trace.error_y;
  }

  /** What plotly is left with: the points' places, for hints and clicks, and the scale of colours. */
  static emptied(trace) {
    const { marker, ...rest } = trace;
    return { ...rest, mode: "none", hoveron: "points" };
  }

  static scale(trace) {
    const { colorscale, cmin, cmax, colorbar, showscale } = trace.marker;
    if (!showscale) return null;
    const marker = { color: [cmin], colorscale, cmin, cmax, colorbar, showscale };
    return { type: "scatter", mode: "markers", x: [null], y: [null], hoverinfo: "skip", showlegend: false, marker };
  }

  /** Draw into a panel that plotly has drawn, in its colours. */
  draw(place, palette) {
    const layer = place.querySelector(".cartesianlayer .overplot > .xy");
    if (!layer) return;
    const clip = place.querySelector("clipPath.plotclip");
    if (clip) this.group.setAttribute("clip-path", `url(#${clip.id})`);
    layer.insertBefore(this.group, layer.querySelector(":scope > :not(.cloud)"));
    const { xaxis, yaxis } = place._fullLayout;
    const { x, y, marker } = this.trace;
    this.at = x.map((value, k) =>
      value === null || y[k] === null ? null : `M${xaxis.d2p(value).toFixed(1)} ${yaxis.d2p(y[k]).toFixed(1)}${this.mark}`,
    );
    this.shades = Array.isArray(marker.color) ? shades(palette.scale) : [palette[marker.color.slice(1)]];
    const span = marker.cmax - marker.cmin || 1;
    this.shade = (k) => {
      if (!Array.isArray(marker.color)) return 0;
      const share = ((marker.color[k] === null ? marker.cmin : marker.color[k]) - marker.cmin) / span;
      return Math.min(Math.floor(share * SHADES), SHADES - 1);
    };
    this.all.style.fillOpacity = marker.opacity === undefined ? "" : String(marker.opacity);
    this.fill(this.all, this.at.keys());
  }

  /** Whether the panel has been drawn so far that points have places. */
  get ready() {
    return this.at !== undefined;
  }

  /** Fade all, and show the chosen points in full; null where nothing is selected. */
  select(points) {
    if (!this.ready) return;
    this.all.style.opacity = points === null ? "" : "0.16";
    this.fill(this.chosen, points || []);
  }

  show(shown) {
    this.group.style.display = shown ? "" : "none";
  }

  fill(group, points) {
    const paths = new Map();
    for (const k of points) {
      if (this.at[k] === null) continue;
      const shade = this.shade(k);
      if (paths.has(shade)) paths.get(shade).push(this.at[k]);
      else paths.set(shade, [this.at[k]]);
    }
    const drawn = [...paths].map(([shade, pieces]) => {
      const path = document.createElementNS(SVG, "path");
      path.setAttribute("d", pieces.join(""));
      path.setAttribute(this.open ? "stroke" : "fill", this.shades[shade]);
      if (this.open) path.setAttribute("fill", "none");
      return path;
    });
    group.replaceChildren(...drawn);
  }

  /** Points within a box or a lasso of plotly's, in data. */
  within({ range, lassoPoints }) {
    const { x, y } = this.trace;
    const indices = [...x.keys()].filter((k) => x[k] !== null && y[k] !== null);
    if (range) {
      const [[left, right], [low, high]] = [range.x, range.y].map((ends) => [...ends].sort((one, other) => one - other));
      return indices.filter((k) => x[k] >= left && x[k] <= right && y[k] >= low && y[k] <= high);
    }
    if (!lassoPoints) return [];
    return indices.filter((k) => inside(x[k], y[k], lassoPoints.x, lassoPoints.y));
  }
}

/** Whether a point lies in a polygon: an odd number of its sides are to the right. */
function inside(x, y, xs, ys) {
  let odd = false;
  for (let k = 0, before = xs.length - 1; k < xs.length; before = k++) {
    const crosses = ys[k] > y !== ys[before] > y;
    if (crosses && x < ((xs[before] - xs[k]) * (y - ys[k])) / (ys[before] - ys[k]) + xs[k]) odd = !odd;
  }
  return odd;
}

/** A scale of colours in so many steps. */
function shades(stops) {
  const parts = stops.map((stop) => [1, 3, 5].map((at) => parseInt(stop.slice(at, at + 2), 16)));
  return Array.from({ length: SHADES }, (_, k) => {
    const at = (k / (SHADES - 1)) * (parts.length - 1);
    const low = Math.min(Math.floor(at), parts.length - 2);
    const mixed = parts[low].map((part, j) => Math.round(part + (at - low) * (parts[low + 1][j] - part)));
    return `rgb(${mixed.join(",")})`;
  });
}
