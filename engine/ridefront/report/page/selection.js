// Which setups are selected, in all figures and tables at once, and their way out as text.

const rowsOf = data.results.map((result) => new Map(result.designs.map((design, row) => [design, row])));
const lettersOf = data.results.map((result) => new Map(result.picks.map((pick) => [pick.design, pick])));

const selection = {
  chosen: data.results.map(() => new Set()),
  listeners: [],
  get size() {
    return this.chosen.reduce((sum, one) => sum + one.size, 0);
  },
  has(result, design) {
    return this.chosen[result].has(design);
  },
  knows(result, design) {
    return result in rowsOf && rowsOf[result].has(design);
  },
  toggle(result, design) {
    if (!this.knows(result, design)) return;
    if (!this.chosen[result].delete(design)) this.chosen[result].add(design);
    this.tell();
  },
  /** Pairs of result and design; instead of what was selected before, or with it. */
  take(pairs, added) {
    if (!added) for (const one of this.chosen) one.clear();
    for (const [result, design] of pairs) if (this.knows(result, design)) this.chosen[result].add(design);
    this.tell();
  },
  clear() {
    this.take([], false);
  },
  tell() {
    for (const listener of this.listeners) listener();
  },
};

/** Rows of a result's selected setups, in the order of the front. */
function selectedRows(result) {
  return [...selection.chosen[result]].map((design) => rowsOf[result].get(design)).sort((one, other) => one - other);
}

/** A row's cells as plain values: design, letter, then the columns. */
function cells(result, row) {
  const design = data.results[result].designs[row];
  const pick = lettersOf[result].get(design);
  return [design, pick ? pick.letter : "", ...data.results[result].values.map((column) => column[row])];
}

function quoted(cell) {
  const text = cell === null ? "" : String(cell);
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

/** A result's selected setups, columns called as in front.parquet, in the study's units. */
function asCsv(result) {
  const head = ["design", "pick", ...data.results[result].columns.map((column) => column.name)];
  const lines = [head, ...selectedRows(result).map((row) => cells(result, row))];
  return lines.map((line) => line.map(quoted).join(",")).join("\r\n") + "\r\n";
}

/** For a sheet or a letter: words and units at the head, cells apart by tabs. */
function asTable(result) {
  const columns = data.results[result].columns;
  const head = ["setup", "pick", ...columns.map((column) => column.words + (column.unit ? ` [${column.unit}]` : ""))];
  const lines = selectedRows(result).map((row) => {
    const [design, letter, ...values] = cells(result, row);
    return [design, letter, ...values.map((value, k) => figure(columns[k], value).replace("−", "-"))];
  });
  return [head, ...lines].map((line) => line.map((cell) => String(cell).replace(/\s+/g, " ")).join("\t")).join("\n");
}

function withSelected() {
  return data.results.map((_, result) => result).filter((result) => selection.chosen[result].size);
}

function downloadSelected() {
  for (const result of withSelected()) {
    const link = make("a", {
      href: URL.createObjectURL(new Blob([asCsv(result)], { type: "text/csv;charset=utf-8" })),
      download: `${data.results[result].called.replace(/[^\p{L}\p{N}._-]+/gu, "_")}-selected.csv`,
    });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  }
}

async function copySelected() {
  const several = withSelected();
  const tables = several.map((k) => (data.results.length > 1 ? `${data.results[k].called}: ${data.results[k].title}\n` : "") + asTable(k));
  const text = tables.join("\n\n");
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    const area = make("textarea", { class: "unseen", readonly: true });
    area.value = text;
    document.body.append(area);
    area.select();
    const copied = document.execCommand("copy");
    area.remove();
    return copied;
  }
}
