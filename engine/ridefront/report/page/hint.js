// What stands beside the pointer: a setup with its variables and figures, or the figures of a point.

const hint = make("div", { class: "hint", role: "status", hidden: true });

/** How a figure differs from the present setup's. */
function change(column, value, now) {
  if (value === null || now === null || now === undefined) return "";
  const apart = value - now;
  if (Math.abs(apart) < 1e-9 * Math.abs(now)) return "as now";
  const sign = apart > 0 ? "+" : "";
  const share = value > 0 && now > 0 ? ` (${sign}${number((100 * apart) / now, 2)} %)` : "";
  return `${sign}${number(apart, 2)}${share}`;
}

/** A setup of a front: its variables and figures, and how each differs from the present setup. */
function setupHint(result, design) {
  const of = data.results[result];
  const row = rowsOf[result].get(design);
  const present = of.present;
  const isPresent = present !== null && present.design === design && row === undefined;
  if (row === undefined && !isPresent) return null;
  const pick = lettersOf[result].get(design);
  const head = isPresent ? "present setup" : `setup ${design}${pick ? `, ${pick.letter}` : ""}`;
  const body = of.columns
    .map((column, k) => [column, isPresent ? present.values[k] : of.values[k][row], present ? present.values[k] : null])
    .filter(([column]) => column.kind !== "measure" || of.columns.length <= 14)
    .map(([column, value, now]) =>
      make(
        "tr",
        { class: column.kind },
        make("th", { scope: "row" }, words(column.words)),
        make("td", {}, figure(column, value)),
        make("td", { class: "unit" }, column.unit),
        make("td", { class: "change" }, isPresent ? "" : change(column, value, now)),
      ),
    );
  const caption = present && !isPresent ? `${head}; at the right, against the present setup` : head;
  return [
    make("table", {}, make("caption", {}, caption), make("tbody", {}, body)),
    ...(pick ? [make("p", {}, words(pick.why))] : []),
  ];
}

/** A point of a series: its name and where it is. */
function pointHint(panel, series, point) {
  const named = (axis, value) => (axis.names.length && axis.names[value] !== undefined ? axis.names[value] : null);
  const line = (axis, value) => {
    const name = named(axis, value);
    return make("div", {}, words(axis.label || "at"), ": ", name !== null ? words(name) : `${number(value, 4)} ${axis.unit}`);
  };
  return [make("strong", {}, words(series.name)), line(panel.x, point.x), line(panel.y, point.y)];
}

function showHint(children, event) {
  hint.replaceChildren(...children);
  hint.hidden = false;
  const [x, y] = [event.clientX || 0, event.clientY || 0];
  const box = hint.getBoundingClientRect();
  const left = x + 16 + box.width < innerWidth ? x + 16 : Math.max(x - 16 - box.width, 4);
  hint.style.left = `${left}px`;
  hint.style.top = `${Math.min(Math.max(y - box.height / 2, 4), Math.max(innerHeight - box.height - 4, 4))}px`;
}

function hideHint() {
  hint.hidden = true;
}
addEventListener("keydown", (event) => {
  if (event.key === "Escape") hideHint();
});
addEventListener("scroll", hideHint, { passive: true });
