// A list: each line against the law of several places, what to hold back first.

import { Work, ask, element, events, onDrop, save, words } from "./app.js";
import { changes, changesNote, findWork, keepWork, keptList } from "./keep.js";
import { LineTable } from "./table.js";

const GROUPS = ["hold", "ask", "nothing-found"];

export function open(main) {
  new ListRoom(main);
}

class ListRoom {
  constructor(main) {
    this.main = main;
    this.form = main.querySelector("#list-form");
    this.file = null;
    this.chosen = {};
    this.kept = null;
    this.head = null;
    this.work = new Work(main.querySelector("#status"), main.querySelector("#stop"));
    this.table = new LineTable(main.querySelector("#lines"), { why: (rows) => this.why(rows), choose: (row, name) => this.choose(row, name) });
    this.installFile();
    this.installPlaces();
    this.installAnswer();
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.check();
    });
    this.main.querySelector("#kept-box").hidden = false;
    this.showKept();
    this.openKept();
  }

  installFile() {
    const { form } = this;
    const drop = this.main.querySelector("#drop");
    form.file.addEventListener("change", () => form.file.files[0] && this.take(form.file.files[0]));
    onDrop(drop, (file) => this.take(file));
    form.plants.addEventListener("input", () => this.forgetFile());
    this.main.querySelector("#forget-file").addEventListener("click", () => this.forgetFile());
    this.main.querySelector("#example").addEventListener("click", (event) => {
      event.preventDefault();
      this.forgetFile();
      form.plants.value = event.target.dataset.example;
      form.plants.focus();
    });
  }

  take(file) {
    this.file = file;
    this.chosen = {};
    this.form.plants.value = "";
    this.main.querySelector("#file-name").textContent = file.name;
    this.main.querySelector("#file-line").hidden = false;
    this.work.say(`${file.name} is ready to be checked.`);
  }

  forgetFile() {
    this.file = null;
    this.chosen = {};
    this.form.file.value = "";
    this.main.querySelector("#file-line").hidden = true;
  }

  // --- places ---

  installPlaces() {
    const add = this.main.querySelector("#add-place");
    add.addEventListener("change", () => {
      if (add.value === "all") for (const state of words.states) this.addPlace(state.code);
      else if (add.value) this.addPlace(add.value);
      add.value = "";
    });
    this.main.querySelector("#no-place").addEventListener("click", () => {
      this.main.querySelector("#places").replaceChildren();
      this.countPlaces();
    });
    // A state chosen before this script was there.
    if (add.value) add.dispatchEvent(new Event("change"));
    const asked = new URLSearchParams(location.search).get("to");
    for (const code of (asked ?? "").split(",")) if (code) this.addPlace(code);
    this.countPlaces();
  }

  addPlace(code) {
    const places = this.main.querySelector("#places");
    const state = words.states.find((one) => one.code === code);
    if (!state || places.querySelector(`[value="${code}"]`)) return;
    const chip = element(
      "li",
      {},
      element("input", { type: "hidden", name: "to", value: code }),
      state.name,
      element("button", {
        type: "button",
        textContent: "×",
        "aria-label": `Take ${state.name} out`,
        onclick: () => {
          chip.remove();
          this.countPlaces();
          this.main.querySelector("#add-place").focus();
        },
      }),
    );
    places.append(chip);
    this.countPlaces();
  }

  countPlaces() {
    this.main.querySelector("#no-place").hidden = this.places().length < 2;
  }

  places() {
    return [...this.main.querySelectorAll("#places input")].map((input) => input.value);
  }

  // --- asking ---

  fields() {
    const fields = new FormData(this.form);
    if (this.file) fields.set("file", this.file);
    else fields.delete("file");
    fields.set("chosen", JSON.stringify(this.chosen));
    return fields;
  }

  async check() {
    if (!this.places().length) {
      this.work.say("Choose at least one state that the plants go to.");
      this.main.querySelector("#add-place").focus();
      return;
    }
    const answer = this.main.querySelector("#answer");
    const done = await this.work.run(async (signal, say) => {
      const reply = await ask("/list/rows", { method: "POST", body: this.fields(), signal });
      let error = null;
      for await (const event of events(reply)) {
        if (event.kind === "head") {
          this.begin(event);
          answer.hidden = false;
        } else if (event.kind === "rows") {
          this.table.add(event.rows);
          say(`${this.table.rows.length.toLocaleString("en")} of ${this.head.total.toLocaleString("en")} lines.`);
          if (this.table.rows.length <= 200) this.count();
        } else if (event.kind === "error") error = event;
      }
      this.count();
      this.table.finish();
      if (error) throw new Error(error.detail);
      return `${this.table.rows.length.toLocaleString("en")} lines answered.`;
    });
    if (done) {
      this.main.querySelector("#answer-title").focus();
      this.compare();
    }
  }

  begin(head) {
    this.head = head;
    this.table.begin(head);
    const notes = this.main.querySelector("#notes");
    notes.replaceChildren(...head.notes.map((note) => element("li", {}, note)));
    const standing = this.main.querySelector("#standing");
    standing.replaceChildren(...head.standing.map((line) => element("li", {}, line)));
    this.main.querySelector("#as-of").textContent = `As of ${head.as_of}, store build ${head.store_build}.`;
    this.main.querySelector("#changed").replaceChildren();
  }

  count() {
    const counts = this.table.counts();
    for (const button of this.main.querySelectorAll("#filters button")) {
      const group = button.dataset.group;
      button.querySelector("b").textContent = (group ? (counts[group] ?? 0) : this.table.rows.length).toLocaleString("en");
    }
  }

  async why(rows) {
    const labels = rows.map((row) => this.chosen[row.n] ?? row.label);
    const fields = { labels, to: this.places(), acts: this.acts(), from: this.form.from.value };
    const reply = await ask("/list/why", { method: "POST", body: JSON.stringify(fields), headers: { "Content-Type": "application/json" } });
    return reply.json();
  }

  acts() {
    return new FormData(this.form).getAll("act");
  }

  async choose(row, name) {
    this.chosen[row.n] = name;
    const fields = new FormData();
    fields.set("plants", name);
    for (const place of this.places()) fields.append("to", place);
    for (const act of this.acts()) fields.append("act", act);
    fields.set("from", this.form.from.value);
    const reply = await ask("/list/rows", { method: "POST", body: fields });
    for await (const event of events(reply)) {
      if (event.kind === "rows") this.table.replace(row.n, { ...event.rows[0], n: row.n, label: row.label, chosen: true });
    }
    this.count();
    this.work.say(`Line ${row.n} is now answered as ${name}. Downloads and kept work carry it.`);
  }

  // --- the answer ---

  installAnswer() {
    const { main } = this;
    main.querySelector("#filters").addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (!button) return;
      for (const one of main.querySelectorAll("#filters button")) one.setAttribute("aria-pressed", String(one === button));
      this.table.filter({ group: button.dataset.group || null });
      this.said();
    });
    main.querySelector("#search").addEventListener("input", (event) => {
      this.table.filter({ text: event.target.value });
      this.said();
    });
    main.querySelector("#order").addEventListener("change", (event) => this.table.filter({ order: event.target.value }));
    main.querySelector("#all-why").addEventListener("click", (event) => {
      const on = event.target.getAttribute("aria-pressed") !== "true";
      event.target.setAttribute("aria-pressed", String(on));
      event.target.textContent = on ? "Hide every reason" : "Show every reason";
      this.table.whyForAll(on);
    });
    for (const button of main.querySelectorAll("[data-download]")) button.addEventListener("click", () => this.download(button.dataset.download));
    main.querySelector("#keep").addEventListener("click", () => this.keep());
    main.querySelector("#print").addEventListener("click", async () => {
      await this.table.drawAll();
      window.print();
    });
  }

  said() {
    this.work.say(`${this.table.shown.length.toLocaleString("en")} of ${this.table.rows.length.toLocaleString("en")} lines shown.`);
  }

  download(kind) {
    return this.work.run(async (signal) => {
      const fields = this.fields();
      fields.set("as", kind);
      const reply = await ask("/list/file", { method: "POST", body: fields, signal });
      save(await reply.blob(), `answered.${kind}`);
      return "The file is saved, with the names you chose.";
    });
  }

  // --- kept work ---

  async showKept() {
    this.main.querySelector("#kept").replaceChildren(await keptList("list"));
  }

  async keep() {
    const file = this.file ? { name: this.file.name, type: this.file.type, content: await asBase64(this.file) } : null;
    this.kept = await keepWork({
      ...(this.kept ? { id: this.kept.id } : {}),
      kind: "list",
      title: this.main.querySelector("#title").value.trim() || this.file?.name || "List",
      file,
      plants: this.form.plants.value,
      to: this.places(),
      from: this.form.from.value,
      acts: this.acts(),
      chosen: this.chosen,
      summary: this.table.summary(),
    });
    this.work.say("Kept in this browser.");
    this.showKept();
  }

  async openKept() {
    const id = new URLSearchParams(location.search).get("kept");
    if (!id) return;
    const work = await findWork(id);
    if (!work) return this.work.say("This piece of work is no longer kept in this browser.");
    this.kept = work;
    if (work.file) this.take(await asFile(work.file));
    else this.form.plants.value = work.plants;
    this.chosen = work.chosen ?? {};
    for (const code of work.to) this.addPlace(code);
    this.form.from.value = work.from;
    for (const box of this.form.querySelectorAll("[name=act]")) box.checked = work.acts.includes(box.value);
    this.main.querySelector("#title").value = work.title;
    this.check();
  }

  compare() {
    if (!this.kept) return;
    this.main.querySelector("#changed").replaceChildren(changesNote(changes(this.kept.summary, this.table.summary()), this.kept.kept_at));
  }
}

async function asBase64(file) {
  const bytes = new Uint8Array(await file.arrayBuffer());
  let text = "";
  for (let at = 0; at < bytes.length; at += 32768) text += String.fromCharCode(...bytes.subarray(at, at + 32768));
  return btoa(text);
}

async function asFile({ name, type, content }) {
  const bytes = Uint8Array.from(atob(content), (letter) => letter.charCodeAt(0));
  return new File([bytes], name, { type });
}

export { GROUPS };
