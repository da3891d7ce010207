// The lines of an answered list: drawn in blocks as they come into view, so that ten thousand stay usable.

import { element, words } from "./app.js";

const BLOCK = 60;
const URGENCY = { hold: 0, ask: 1, "nothing-found": 2 };

export class LineTable {
  constructor(box, { why, choose }) {
    this.box = box;
    this.askWhy = why;
    this.askChoose = choose;
    this.wanted = { group: null, text: "", order: "urgency" };
    this.begin({ columns: [], lanes: [], house: false });
  }

  begin(head) {
    this.head = head;
    this.rows = [];
    this.shown = [];
    this.opened = new Set();
    this.grounds = new Map();
    this.all = false;
    this.watch?.disconnect();
    this.watch = new IntersectionObserver((seen) => seen.forEach((block) => (block.isIntersecting ? this.draw(block.target) : this.clear(block.target))), {
      rootMargin: "600px 0px",
    });
    const names = ["Line", "On the label", "Plant meant", ...head.columns.map((column) => column.name), ...head.lanes, ...(head.house ? ["House rule"] : []), "Why"];
    this.names = names;
    this.table = element(
      "table",
      { className: "lines", "aria-rowcount": 1 },
      element("thead", {}, element("tr", { "aria-rowindex": 1 }, ...names.map((name) => element("th", { scope: "col" }, name)))),
    );
    this.box.replaceChildren(this.table);
  }

  add(rows) {
    this.rows.push(...rows);
    if (this.rows.length <= 400) this.arrange();
  }

  finish() {
    this.arrange();
  }

  replace(number, row) {
    const at = this.rows.findIndex((one) => one.n === number);
    this.rows[at] = row;
    this.grounds.delete(number);
    this.arrange();
  }

  counts() {
    const counts = {};
    for (const row of this.rows) counts[row.group] = (counts[row.group] ?? 0) + 1;
    return counts;
  }

  /** What was said of each line, in one phrase, to compare with another day. */
  summary() {
    return Object.fromEntries(this.rows.map((row) => [`${row.n}: ${row.label}`, this.phrase(row)]));
  }

  phrase(row) {
    const said = this.head.columns.map((column, at) => `${column.name} ${words.outcomes[row.cells[at][0]]}`);
    return [row.meant || "no plant known", row.sure ? "" : "name not confirmed", ...said].filter(Boolean).join(", ");
  }

  filter(wanted) {
    Object.assign(this.wanted, wanted);
    this.arrange();
  }

  arrange() {
    const { group, text, order } = this.wanted;
    const sought = text.trim().toLowerCase();
    this.shown = this.rows.filter((row) => (!group || row.group === group) && (!sought || `${row.label} ${row.meant}`.toLowerCase().includes(sought)));
    if (order === "urgency") this.shown.sort((a, b) => URGENCY[a.group] - URGENCY[b.group] || a.n - b.n);
    else if (order === "label") this.shown.sort((a, b) => a.label.localeCompare(b.label));
    this.watch.disconnect();
    this.table.querySelectorAll("tbody").forEach((block) => block.remove());
    this.table.setAttribute("aria-rowcount", this.shown.length + 1);
    for (let at = 0; at < this.shown.length; at += BLOCK) {
      const block = element("tbody", { data: { from: at } });
      this.table.append(block);
      if (at === 0) this.draw(block);
      else this.clear(block);
      this.watch.observe(block);
    }
    if (!this.shown.length) this.table.append(element("tbody", {}, element("tr", {}, element("td", { colSpan: this.names.length }, "No line is like that."))));
  }

  rowsOf(block) {
    const from = Number(block.dataset.from);
    return this.shown.slice(from, from + BLOCK);
  }

  clear(block) {
    if (block.dataset.drawn === "no") return;
    const height = block.dataset.drawn === "yes" ? block.getBoundingClientRect().height : this.rowsOf(block).length * 52;
    const spacer = element("tr", { className: "spacer", "aria-hidden": "true" }, element("td", { colSpan: this.names.length }));
    spacer.firstChild.style.height = `${height}px`;
    block.replaceChildren(spacer);
    block.dataset.drawn = "no";
  }

  draw(block) {
    if (block.dataset.drawn === "yes") return;
    const from = Number(block.dataset.from);
    block.replaceChildren(...this.rowsOf(block).flatMap((row, at) => this.lines(row, from + at + 2)));
    block.dataset.drawn = "yes";
    if (this.all) this.fill(this.rowsOf(block));
  }

  async drawAll() {
    this.watch.disconnect();
    const blocks = [...this.table.querySelectorAll("tbody")];
    for (const block of blocks) this.draw(block);
  }

  lines(row, index) {
    const open = this.all || this.opened.has(row.n);
    const cells = this.head.columns.map((column, at) => cell(column.name, tag(...row.cells[at])));
    const lanes = this.head.lanes.map((name, at) => cell(name, tag(...row.lanes[at])));
    const word = element("span", {}, open ? "Hide" : "Why");
    const rest = element("span", { className: "unseen" }, ` and whom to ask about ${row.label}`);
    const button = element("button", { type: "button", className: "small", "aria-expanded": String(open) }, word, rest);
    const line = element(
      "tr",
      { className: `is-${row.group}`, "aria-rowindex": index, data: { line: row.n } },
      cell("Line", String(row.n)),
      element("th", { scope: "row" }, element("bdi", {}, row.label)),
      cell("Plant meant", ...meant(row)),
      ...cells,
      ...lanes,
      ...(this.head.house ? [cell("House rule", row.house ?? "")] : []),
      cell("Why", button),
    );
    const reasons = element("tr", { className: "reasons", hidden: !open }, element("td", { colSpan: this.names.length }, this.reasons(row)));
    button.addEventListener("click", () => {
      const now = reasons.hidden;
      reasons.hidden = !now;
      word.textContent = now ? "Hide" : "Why";
      button.setAttribute("aria-expanded", String(now));
      if (now) {
        this.opened.add(row.n);
        this.fill([row]);
      } else this.opened.delete(row.n);
    });
    if (open && !this.all) queueMicrotask(() => this.fill([row]));
    return [line, reasons];
  }

  reasons(row) {
    return element("div", { data: { grounds: row.n } }, this.grounds.has(row.n) ? "" : "Looking it up ...");
  }

  whyForAll(on) {
    this.all = on;
    if (!on) this.opened.clear();
    this.arrange();
  }

  /** Fetches the reasons of rows once and puts them where they are open. */
  async fill(rows) {
    const missing = rows.filter((row) => !this.grounds.has(row.n));
    if (missing.length) {
      try {
        const found = await this.askWhy(missing);
        missing.forEach((row, at) => this.grounds.set(row.n, found.parts[at]));
      } catch (error) {
        for (const row of missing) this.place(row, element("p", {}, `The reasons did not come (${error.message}). Press Why again.`));
        return;
      }
    }
    for (const row of rows) this.place(row, ...this.groundsOf(row));
  }

  place(row, ...parts) {
    this.table.querySelector(`[data-grounds="${row.n}"]`)?.replaceChildren(...parts);
  }

  groundsOf(row) {
    const template = document.createElement("template");
    template.innerHTML = this.grounds.get(row.n);
    return [this.choices(row), template.content].filter(Boolean);
  }

  choices(row) {
    if (row.sure || row.chosen || row.choices.length < 1) return null;
    return element(
      "p",
      { className: "choices" },
      "You have looked at the plant and know it? ",
      ...row.choices.map((name) => element("button", { type: "button", className: "small", textContent: `It is ${name}`, onclick: () => this.askChoose(row, name) })),
    );
  }
}

function cell(name, ...content) {
  return element("td", { data: { is: name } }, ...content);
}

function tag(outcome, verified) {
  const said = element("span", { className: `outcome is-${outcome}` }, words.outcomes[outcome]);
  if (verified || outcome === "no-entry-found" || outcome === "undetermined") return said;
  const both = document.createDocumentFragment();
  both.append(said, " ", element("span", { className: "mark" }, "unverified"));
  return both;
}

function meant(row) {
  const parts = [row.meant ? element("i", {}, row.meant) : "no plant known by it"];
  if (row.chosen) parts.push(" ", element("span", { className: "mark" }, "as you said"));
  else if (!row.sure && row.meant) parts.push(" ", element("span", { className: "mark" }, "not confirmed"));
  return parts;
}
