// The setups of a front as a table: sorted by any column, a page at a time, selected by keyboard or pointer.

const PAGE = 25;
const ACROSS = 7;
const ON_PAPER = 42;

class SetupTable {
  constructor(result) {
    this.result = result;
    this.of = data.results[result];
    this.view = "all";
    this.by = null;
    this.falling = false;
    this.page = 0;
    this.at = 0;
    this.body = make("tbody");
    this.body.addEventListener("keydown", (event) => this.key(event));
    this.body.addEventListener("click", (event) => this.clicked(event));
    this.status = make("span", { class: "status", "aria-live": "polite" });
    this.earlier = make("button", { type: "button", onclick: () => this.turn(-1) }, "earlier");
    this.later = make("button", { type: "button", onclick: () => this.turn(1) }, "later");
    this.heads = [];
    this.paper = make("div", { class: "paper" });
    this.element = this.build();
    selection.listeners.push(() => (this.view === "selected" ? this.show() : this.mark()));
    theme.listeners.push(() => this.print());
    this.show();
  }

  build() {
    const columns = [{ words: "setup", unit: "" }, { words: "pick", unit: "" }, ...this.of.columns];
    const heads = columns.map((column, k) => {
      const label = [words(column.words), column.unit ? make("span", { class: "unit" }, ` [${column.unit}]`) : null];
      const head = make("th", { scope: "col", class: column.kind }, make("button", { type: "button", onclick: () => this.sort(k) }, label));
      this.heads.push(head);
      return head;
    });
    const table = make(
      "table",
      { role: "grid", "aria-multiselectable": "true", "aria-label": `setups of ${this.of.called}`, class: "setups" },
      make("thead", {}, make("tr", {}, make("th", { scope: "col", class: "box" }, make("span", { class: "unseen" }, "selected")), heads)),
      this.body,
    );
    const names = { all: "the front", picked: "picked", selected: "selected" };
    const views = Object.entries(names).map(([view, name]) =>
      make("label", {}, make("input", {
        type: "radio", name: `view-${this.result}`, value: view, checked: view === this.view, onchange: () => this.look(view),
      }), name),
    );
    return make(
      "div",
      { class: "setup-table" },
      make("fieldset", { class: "views" }, make("legend", { class: "unseen" }, "which setups"), views),
      make("p", { class: "aside" }, "Arrow keys move, space selects, page keys turn pages; a click on a head sorts."),
      make("div", { class: "scroller" }, table),
      this.paper,
      make("p", { class: "pager" }, this.earlier, this.status, this.later),
    );
  }

  look(view) {
    this.view = view;
    this.page = this.at = 0;
    this.show();
  }

  sort(k) {
    const better = k >= 2 ? this.of.columns[k - 2].better : 0;
    this.falling = this.by === k ? !this.falling : better > 0;
    this.by = k;
    this.page = this.at = 0;
    this.heads.forEach((head, j) => {
      if (j === k) head.setAttribute("aria-sort", this.falling ? "descending" : "ascending");
      else head.removeAttribute("aria-sort");
    });
    this.show();
  }

  /** On paper: the selected setups, or else the picked ones, beside the present one, a column a setup. */
  print() {
    if (!theme.printing) return this.paper.replaceChildren();
    const chosen = selectedRows(this.result);
    const rows = chosen.length ? chosen : this.of.picks.map((pick) => rowsOf[this.result].get(pick.design));
    const shown = rows.slice(0, ON_PAPER);
    const tables = [];
    for (let from = 0; from < shown.length; from += ACROSS) tables.push(this.across(shown.slice(from, from + ACROSS)));
    const more = rows.length > shown.length ? `${count(rows.length - shown.length)} more are selected; the CSV has them all.` : "";
    return this.paper.replaceChildren(make("p", {}, chosen.length ? "Selected" : "Picked"), ...tables, make("p", {}, more));
  }

  across(rows) {
    const { present, columns } = this.of;
    const lines = rows.map((row) => cells(this.result, row));
    const heads = ["", "unit", ...(present ? ["present"] : []), ...lines.map(([design, letter]) => (letter ? `${letter} (${design})` : String(design)))];
    const body = columns.map((column, k) => {
      const now = present ? [figure(column, present.values[k])] : [];
      const texts = [column.unit, ...now, ...lines.map((line) => figure(column, line[k + 2]))];
      return make("tr", { class: column.kind }, make("th", { scope: "row" }, words(column.words)), texts.map((text) => make("td", {}, text)));
    });
    const head = make("thead", {}, make("tr", {}, heads.map((text) => make("th", { scope: "col" }, text))));
    return make("table", { class: "across" }, head, make("tbody", {}, body));
  }

  /** Rows of the front that are shown, in their order. */
  rows() {
    const { designs } = this.of;
    let rows = designs.map((_, row) => row);
    if (this.view === "picked") rows = rows.filter((row) => lettersOf[this.result].has(designs[row]));
    if (this.view === "selected") rows = selectedRows(this.result);
    if (this.by !== null) {
      const sign = this.falling ? -1 : 1;
      const values = rows.map((row) => [this.sortValue(row), row]);
      values.sort(([one, r], [other, s]) => {
        if (one === other) return r - s;
        if (one === null || one === "") return 1;
        if (other === null || other === "") return -1;
        return sign * (one < other ? -1 : 1);
      });
      rows = values.map(([, row]) => row);
    }
    return rows;
  }

  sortValue(row) {
    if (this.by === 0) return this.of.designs[row];
    if (this.by === 1) return (lettersOf[this.result].get(this.of.designs[row]) || { letter: "" }).letter;
    return this.of.values[this.by - 2][row];
  }

  show() {
    const rows = this.rows();
    this.pages = Math.max(Math.ceil(rows.length / PAGE), 1);
    this.page = Math.min(this.page, this.pages - 1);
    const from = this.page * PAGE;
    this.shown = rows.slice(from, from + PAGE);
    this.at = Math.min(this.at, Math.max(this.shown.length - 1, 0));
    this.body.replaceChildren(...this.shown.map((row, k) => this.row(row, k)));
    const range = rows.length ? `${count(from + 1)} to ${count(from + this.shown.length)} of ${count(rows.length)}` : "none";
    this.status.textContent = range;
    this.earlier.disabled = this.page === 0;
    this.later.disabled = this.page >= this.pages - 1;
    this.mark();
  }

  row(row, k) {
    const [design, letter, ...values] = cells(this.result, row);
    const figures = values.map((value, j) => make("td", { class: this.of.columns[j].kind }, figure(this.of.columns[j], value)));
    return make(
      "tr",
      { tabindex: k === this.at ? 0 : -1, "data-design": design },
      make("td", { class: "box", "aria-hidden": "true" }),
      make("th", { scope: "row" }, String(design)),
      make("td", { class: "letter" }, letter),
      figures,
    );
  }

  /** Which rows are selected. */
  mark() {
    for (const row of this.body.children) {
      const chosen = selection.has(this.result, Number(row.dataset.design));
      row.setAttribute("aria-selected", String(chosen));
      row.firstChild.textContent = chosen ? "☑" : "☐";
    }
  }

  turn(by) {
    this.page = Math.min(Math.max(this.page + by, 0), this.pages - 1);
    this.show();
  }

  go(to) {
    const rows = [...this.body.children];
    if (!rows.length) return;
    this.at = Math.min(Math.max(to, 0), rows.length - 1);
    rows.forEach((row, k) => (row.tabIndex = k === this.at ? 0 : -1));
    rows[this.at].focus();
  }

  key(event) {
    const row = event.target.closest("tr");
    if (!row) return;
    const at = [...this.body.children].indexOf(row);
    const acts = {
      ArrowDown: () => this.step(at, 1),
      ArrowUp: () => this.step(at, -1),
      Home: () => this.go(0),
      End: () => this.go(PAGE),
      PageDown: () => (this.turn(1), this.go(0)),
      PageUp: () => (this.turn(-1), this.go(0)),
      " ": () => this.pick(row, at),
      Enter: () => this.pick(row, at),
    };
    if (!(event.key in acts)) return;
    event.preventDefault();
    acts[event.key]();
  }

  step(at, by) {
    const to = at + by;
    if (to >= 0 && to < this.shown.length) this.go(to);
    else if (to < 0 ? this.page > 0 : this.page < this.pages - 1) {
      this.turn(by);
      this.go(by > 0 ? 0 : PAGE);
    }
  }

  pick(row, at) {
    selection.toggle(this.result, Number(row.dataset.design));
    this.go(at);
  }

  clicked(event) {
    const row = event.target.closest("tr");
    if (row) this.pick(row, [...this.body.children].indexOf(row));
  }
}
