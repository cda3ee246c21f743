// The page: head, selection bar, contents, a section a result, paper.

const said = make("span", { "aria-live": "polite", class: "said" });

function factList(result) {
  const facts = result.facts.map(([name, value]) => make("div", {}, make("dt", {}, name), make("dd", {}, words(value))));
  return make("dl", { class: "facts" }, facts);
}

function themeButton() {
  const next = { auto: "dark", dark: "light", light: "auto" };
  const button = make("button", { type: "button", class: "theme" });
  const name = () => (button.textContent = `paper: ${theme.chosen === "auto" ? "as the system" : theme.chosen}`);
  button.addEventListener("click", () => {
    theme.chosen = next[theme.chosen];
    theme.apply();
    name();
  });
  name();
  return button;
}

function selectionBar() {
  const number = make("strong", { class: "count" });
  const hintText = make("span", { class: "aside" }, "click points or rows, or draw a box in a figure");
  const buttons = [
    make("button", { type: "button", onclick: () => selection.clear() }, "clear"),
    make("button", {
      type: "button",
      onclick: async () => (said.textContent = (await copySelected()) ? "copied" : "the browser does not let this page copy"),
    }, "copy table"),
    make("button", { type: "button", onclick: downloadSelected }, "download CSV"),
  ];
  const update = () => {
    number.textContent = `${count(selection.size)} selected`;
    hintText.hidden = selection.size > 0;
    buttons.forEach((button) => (button.disabled = !selection.size));
    said.textContent = "";
  };
  selection.listeners.push(update);
  update();
  return make("div", { class: "bar", role: "region", "aria-label": "selection" }, number, hintText, buttons, said);
}

function resultSection(section) {
  const several = data.sections.length > 1;
  const level = several ? 3 : 2;
  const prefix = several ? `${section.result === null ? "beside" : `result-${section.result}`}-` : "";
  const children = section.cards.map((card) => cardElement(card, section.result, level, prefix));
  if (section.result !== null && data.results[section.result].designs.length) {
    const title = make(`h${level}`, { id: `${prefix}setups-title` }, "Which setups are on the front?");
    const table = new SetupTable(section.result).element;
    children.push(make("section", { class: "card", id: `${prefix}setups`, "aria-labelledby": `${prefix}setups-title` }, title, table));
  }
  const head = several ? [make("h2", { id: `${prefix}head` }, words(section.title))] : [];
  if (several && section.result !== null) head.push(factList(data.results[section.result]));
  const links = children.map((child) => make("li", {}, make("a", { href: `#${child.id}` }, child.querySelector("h2, h3").textContent)));
  return {
    element: make("div", { class: "result" }, head, children),
    links: several
      ? make("li", {}, make("a", { href: `#${prefix}head` }, words(section.title)), make("ul", {}, links))
      : links,
  };
}

const sections = data.sections.map(resultSection);
const header = make(
  "header",
  {},
  make("div", { class: "top" }, make("h1", {}, words(data.title)), themeButton()),
  data.results.length === 1 ? factList(data.results[0]) : null,
  make("p", { class: "caution" }, "A computed setup is a starting point: prove it on a rig and a closed course before anyone else drives it."),
);
const contents = make("nav", { "aria-label": "contents" }, make("ul", {}, sections.map((section) => section.links)));
document.body.append(
  make("a", { href: "#main", class: "skip" }, "to the cards"),
  header,
  contents,
  selectionBar(),
  make("main", { id: "main" }, sections.map((section) => section.element)),
  hint,
);
theme.apply();

function onPaper(printing) {
  if (theme.printing === printing) return;
  theme.printing = printing;
  if (printing) plots.filter((plot) => !plot.drawn).forEach((plot) => plot.draw());
  theme.apply();
  if (!printing) plots.filter((plot) => plot.drawn).forEach((plot) => Plotly.Plots.resize(plot.place));
}
addEventListener("beforeprint", () => onPaper(true));
addEventListener("afterprint", () => onPaper(false));
matchMedia("print").addEventListener("change", (event) => onPaper(event.matches));
