// Cards: a question, what answers it, and what is to be said beside it.

const LONG = 40; // letters of a cell that may take several lines

function textTable(table) {
  const cell = (text, k, tag) => make(tag, { class: table.words[k] ? (text.length > LONG ? "words long" : "words") : null, scope: tag === "th" ? "col" : null }, words(text));
  const wrapped = make(
    "div",
    { class: "scroller", tabindex: 0, role: "region", "aria-label": table.title || "table" },
    make(
      "table",
      {},
      table.title ? make("caption", {}, words(table.title)) : null,
      make("thead", {}, make("tr", {}, table.columns.map((text, k) => cell(text, k, "th")))),
      make("tbody", {}, table.rows.map((row) => make("tr", {}, row.map((text, k) => cell(text, k, "td"))))),
    ),
  );
  return [wrapped, notesOf(table.notes)];
}

function notesOf(notes) {
  return notes.length ? make("ul", { class: "notes" }, notes.map((note) => make("li", {}, words(note)))) : null;
}

function cardElement(card, result, level, prefix) {
  const id = `${prefix}${card.name}`;
  const heading = make(`h${level}`, { id: `${id}-title` }, words(card.title));
  const section = make("section", { class: `card ${card.state}`, id, "aria-labelledby": `${id}-title` }, heading);
  if (card.state === "apart") {
    section.append(make("p", {}, "Nothing to show here: ", words(card.reason), "."));
  } else if (card.state === "failed") {
    section.append(make("p", { role: "note" }, "This card could not be made; the others are not touched. ", make("code", {}, words(card.reason))));
  } else {
    if (card.lead) section.append(make("p", { class: "lead" }, words(card.lead)));
    section.append(...card.figures.map((figure) => figureElement(figure, result, level + 1)));
    for (const table of card.tables) section.append(...textTable(table).filter((one) => one !== null));
    const notes = notesOf(card.notes);
    if (notes) section.append(notes);
  }
  return section;
}
