// A place: draw or describe the pond and its beds, add plants, and see what follows.

import { Work, ask, askJson, debounce, element, metres, openIn, percent, save, words } from "./app.js";
import { changes, changesNote, findWork, keepWork, keptList } from "./keep.js";
import { makeMap, squareMetres } from "./map.js";
import { installNames } from "./names.js";
import { planCard } from "./cards.js";

const GROUPS = [
  ["hold-back", "Hold back", "Barred, not known by name where it matters, or no fit."],
  ["with-care", "With care", "Each has something to meet or to ask first."],
  ["nothing-against", "Nothing found against it", "In the lists loaded here, on this day. It is not a permission."],
];

export function open(main) {
  new PlaceRoom(main);
}

class PlaceRoom {
  constructor(main) {
    this.main = main;
    this.plan = { title: "", site: {}, places: [], waters: [], plantings: [] };
    this.kept = null;
    this.answer = null;
    this.work = new Work(main.querySelector("#status"), main.querySelector("#stop"));
    this.workOut = debounce(() => this.check(), 700);
    this.site = main.querySelector("#site-form");
    this.site.addEventListener("input", () => this.siteChanged());
    main.querySelector("#add-pond").addEventListener("click", () => this.addPlace());
    main.querySelector("#add-water").addEventListener("click", () => this.addWater());
    main.querySelector("#use-middle").addEventListener("click", () => this.useMiddle());
    main.querySelector("#plant-form").addEventListener("submit", (event) => this.addPlant(event));
    main.querySelector("#open-plan").addEventListener("change", (event) => this.openFile(event));
    main.querySelector("#keep").addEventListener("click", () => this.keep());
    for (const button of main.querySelectorAll("[data-download]")) button.addEventListener("click", () => this.download(button.dataset.download, button.dataset.name));
    main.querySelector("#report").addEventListener("click", () => this.report());
    installNames(main.querySelector("#new-plant"));
    main.querySelector("#kept-box").hidden = false;
    this.begin();
  }

  async begin() {
    this.showKept();
    try {
      this.map = await makeMap(this.main.querySelector("#map"), this.main.querySelector("#map-tools"));
    } catch (error) {
      this.main.querySelector("#map").textContent = `The map is not there (${error.message}); type sizes and distances instead.`;
    }
    const asked = new URLSearchParams(location.search);
    if (asked.get("kept")) await this.openKept(asked.get("kept"));
    else if (asked.get("example")) await this.take(await askJson(`/place/example`));
    else {
      if (asked.get("in")) this.plan.site.state = asked.get("in");
      if (asked.get("label")) this.plan.plantings.push({ label: asked.get("label") });
      this.showAll();
    }
  }

  // --- the document ---

  async take(plan) {
    this.plan = { title: "", site: {}, places: [], waters: [], plantings: [], ...plan };
    this.plan.plantings = this.plan.plantings.map((planting) => (typeof planting === "string" ? { label: planting } : planting));
    this.showAll();
    this.map?.fit();
  }

  /** Everything that is stated; what is empty is left out. */
  document() {
    const { outlets, ...plan } = this.plan;
    const site = { ...plan.site };
    const first = plan.places.find((place) => place.geometry)?.geometry;
    if (!site.geometry && first) site.geometry = first;
    const whole = { ...plan, site };
    for (const key of ["waters", "places", "title"]) if (!whole[key]?.length) delete whole[key];
    return whole;
  }

  changed() {
    this.drawMap();
    this.workOut();
  }

  siteChanged() {
    const { site } = this.plan;
    this.plan.title = this.site.title.value;
    for (const name of ["state", "county", "zip", "hardiness_zone"]) set(site, name, this.site[name].value.trim());
    const at = this.site.at.value.split(",").map((part) => Number(part.trim()));
    if (at.length === 2 && at.every(Number.isFinite) && this.site.at.value.trim()) site.geometry = { type: "Point", coordinates: at };
    else if (site.geometry?.type === "Point") delete site.geometry;
    this.changed();
  }

  useMiddle() {
    if (!this.map) return;
    this.site.at.value = this.map.middle().join(", ");
    this.siteChanged();
  }

  showAll() {
    const { site } = this.plan;
    this.site.title.value = this.plan.title ?? "";
    for (const name of ["state", "county", "zip", "hardiness_zone"]) this.site[name].value = site[name] ?? "";
    this.site.at.value = site.geometry?.type === "Point" ? site.geometry.coordinates.join(", ") : "";
    this.showPlaces();
    this.showWaters();
    this.showPlants();
    this.changed();
  }

  // --- ponds, streams, bogs ---

  addPlace() {
    const number = this.plan.places.length + 1;
    this.plan.places.push({ name: number === 1 ? "Pond" : `Pond ${number}`, kind: "pond" });
    this.showPlaces();
    this.changed();
    this.main.querySelector("#places li:last-child input")?.focus();
  }

  showPlaces() {
    this.main.querySelector("#places").replaceChildren(...this.plan.places.map((place) => this.placeItem(place)));
  }

  placeItem(place) {
    const field = (label, control) => element("label", { className: "field" }, element("span", {}, label), control);
    const text = (name, options = {}) =>
      element("input", { value: lengthText(place, name), ...options, onchange: (event) => (setLength(place, name, event.target.value, this.unit()), this.changed()) });
    const size = element("output", { className: "hint" }, sizeText(place.geometry));
    const item = element("li", { className: "part" });
    const draw = async (kind, what, keep) => {
      if (!this.map) return;
      const shape = await this.map.draw(kind, what);
      if (!shape) return;
      keep(shape);
      this.showPlaces();
      this.changed();
    };
    item.append(
      element(
        "div",
        { className: "fields" },
        field("Name", element("input", { value: place.name, required: true, maxLength: 200, onchange: (event) => this.renamePlace(place, event.target.value) })),
        field("It is a", choice(place, "kind", { pond: "pond", stream: "stream", bog: "bog" }, () => this.changed(), false)),
        field(`Depth`, text("depth", { placeholder: this.unit() === "in" ? "30 in" : "80 cm", size: 8 })),
        field("Surface, m²", element("input", { value: place.area_m2 ?? "", inputMode: "decimal", size: 8, onchange: (event) => (setNumber(place, "area_m2", event.target.value), this.changed()) })),
        field("Water is", choice(place, "flow", { still: "still", slow: "slow", moving: "moving" }, () => this.changed())),
        field("Light", choice(place, "light", { sun: "sun", "part-shade": "part shade", shade: "shade" }, () => this.changed())),
      ),
      element(
        "div",
        { className: "doing" },
        element("button", { type: "button", textContent: place.geometry ? "Draw it again" : "Draw it on the map", onclick: () => draw("polygon", place.name, (shape) => (place.geometry = shape)) }),
        size,
        element("button", { type: "button", textContent: place.outlet_at ? "Move the outlet" : "Mark the outlet", onclick: () => draw("point", `the outlet of ${place.name}`, (shape) => Object.assign(place, { outlet_at: shape, outlet: true })) }),
        element("button", { type: "button", textContent: place.overflow_at ? "Move the overflow" : "Mark the overflow", onclick: () => draw("point", `where ${place.name} overflows`, (shape) => Object.assign(place, { overflow_at: shape, overflow: true })) }),
      ),
      element(
        "details",
        {},
        element("summary", {}, "Ways out and what else matters (not said counts as unknown)"),
        ...Object.entries(words.place_questions).map(([name, question]) => element("label", { className: "line" }, `${question} `, choice(place, name, { true: "yes", false: "no" }, () => this.changed(), true, true))),
      ),
      element("button", { type: "button", className: "small", textContent: `Take ${place.name} out`, onclick: () => this.dropPlace(place) }),
    );
    return item;
  }

  renamePlace(place, name) {
    for (const planting of this.plan.plantings) if (planting.place === place.name) planting.place = name;
    place.name = name;
    this.showPlants();
    this.changed();
  }

  dropPlace(place) {
    this.plan.places = this.plan.places.filter((one) => one !== place);
    for (const planting of this.plan.plantings) if (planting.place === place.name) delete planting.place;
    this.showPlaces();
    this.showPlants();
    this.changed();
  }

  // --- waters ---

  addWater() {
    this.plan.waters.push({ name: `Water ${this.plan.waters.length + 1}`, kind: "stream", distance_m: 50, relation: "near" });
    this.showWaters();
    this.changed();
    this.main.querySelector("#waters li:last-child input")?.focus();
  }

  showWaters() {
    this.main.querySelector("#waters").replaceChildren(
      ...this.plan.waters.map((water) => {
        const say = () => this.changed();
        return element(
          "li",
          { className: "part" },
          element(
            "div",
            { className: "fields" },
            element("label", { className: "field" }, element("span", {}, "Name"), element("input", { value: water.name, maxLength: 200, onchange: (event) => ((water.name = event.target.value), say()) })),
            element("label", { className: "field" }, element("span", {}, "It is a"), choice(water, "kind", Object.fromEntries(words.water_kinds.map((kind) => [kind, kind])), say, false)),
            water.geometry
              ? element("span", { className: "hint" }, "drawn on the map")
              : element("label", { className: "field" }, element("span", {}, "Distance, m"), element("input", { value: water.distance_m ?? "", inputMode: "decimal", size: 7, onchange: (event) => (setNumber(water, "distance_m", event.target.value), say()) })),
            water.geometry ? null : element("label", { className: "field" }, element("span", {}, "It lies"), choice(water, "relation", { near: "near", downstream: "downstream" }, say, false)),
          ),
          element(
            "div",
            { className: "doing" },
            element("button", { type: "button", textContent: "Draw it on the map", onclick: () => this.drawWater(water) }),
            element("button", { type: "button", className: "small", textContent: `Take ${water.name} out`, onclick: () => this.dropWater(water) }),
          ),
        );
      }),
    );
  }

  async drawWater(water) {
    const line = ["stream", "river", "canal"].includes(water.kind);
    const shape = await this.map?.draw(line ? "line" : "polygon", water.name);
    if (!shape) return;
    water.geometry = shape;
    delete water.distance_m;
    delete water.relation;
    this.showWaters();
    this.changed();
  }

  dropWater(water) {
    this.plan.waters = this.plan.waters.filter((one) => one !== water);
    this.showWaters();
    this.changed();
  }

  // --- plants ---

  addPlant(event) {
    event.preventDefault();
    const input = this.main.querySelector("#new-plant");
    const labels = input.value.split(/\n|;/).map((label) => label.trim()).filter(Boolean);
    if (!labels.length) return;
    const place = this.plan.places.length === 1 ? { place: this.plan.places[0].name } : {};
    this.plan.plantings.push(...labels.map((label) => ({ label, ...place })));
    input.value = "";
    this.showPlants();
    this.changed();
    input.focus();
  }

  showPlants() {
    const answered = new Map((this.answer?.plantings ?? []).map((planting) => [planting.pointer, planting]));
    const groups = new Map([...GROUPS.map(([verdict]) => [verdict, []]), ["", []]]);
    this.plan.plantings.forEach((planting, at) => {
      const said = answered.get(`/plantings/${at}`);
      const current = said?.label === planting.label ? said : null;
      const card = planCard(planting, current, {
        places: this.plan.places.map((place) => place.name),
        unit: this.unit(),
        state: this.answer?.site?.state ?? this.plan.site.state,
        change: () => this.changed(),
        drop: () => this.dropPlant(planting),
        replace: (name) => this.replacePlant(planting, name),
        setLength: (name, text) => setLength(planting, name, text, this.unit()),
        lengthText: (name) => lengthText(planting, name),
      });
      groups.get(current?.verdict ?? "").push(card);
    });
    const parts = [];
    if (groups.get("").length) parts.push(group("Being worked out", "", groups.get("")));
    for (const [verdict, title, meaning] of GROUPS) if (groups.get(verdict).length) parts.push(group(`${title} (${groups.get(verdict).length})`, meaning, groups.get(verdict), verdict));
    this.main.querySelector("#groups").replaceChildren(...parts);
  }

  dropPlant(planting) {
    this.plan.plantings = this.plan.plantings.filter((one) => one !== planting);
    this.answer = null;
    this.showPlants();
    this.changed();
  }

  replacePlant(planting, name) {
    planting.label = name;
    this.showPlants();
    this.changed();
  }

  // --- the map ---

  drawMap() {
    if (!this.map) return;
    const shapes = [];
    for (const place of this.plan.places) {
      if (place.geometry) shapes.push({ what: "place", geometry: place.geometry, name: place.name });
      if (place.outlet_at) shapes.push({ what: "outlet", geometry: place.outlet_at, name: `Outlet of ${place.name}` });
      if (place.overflow_at) shapes.push({ what: "overflow", geometry: place.overflow_at, name: `${place.name} overflows here` });
    }
    for (const water of this.plan.waters) if (water.geometry) shapes.push({ what: "water", geometry: water.geometry, name: water.name });
    this.plan.plantings.forEach((planting) => planting.geometry && shapes.push({ what: "bed", geometry: planting.geometry, name: planting.label }));
    const { geometry } = this.plan.site;
    if (geometry?.type === "Point") shapes.push({ what: "site", geometry, name: "The site" });
    this.map.show(shapes);
  }

  // --- asking ---

  async check() {
    if (!this.plan.plantings.length) return this.work.say("Add a plant to see what follows.");
    await this.work.run(async (signal) => {
      const answer = await askJson("/v1/plan-checks", this.document(), { signal });
      this.answer = answer;
      this.show(answer);
      return `Worked out for ${answer.plantings.length} ${answer.plantings.length === 1 ? "planting" : "plantings"}.`;
    });
  }

  show(answer) {
    const focus = document.activeElement?.dataset?.field;
    this.showPlants();
    if (focus) this.main.querySelector(`[data-field="${CSS.escape(focus)}"]`)?.focus();
    const problems = answer.problems ?? [];
    this.main.querySelector("#problems").replaceChildren(
      ...(problems.length ? [element("ul", { className: "problem" }, ...problems.map((problem) => element("li", {}, `${problem.detail} ${problem.next_step ?? ""} `, element("code", {}, problem.pointer))))] : []),
    );
    const where = [answer.site.county_name, words.states.find((state) => state.code === answer.site.state)?.name, answer.site.hardiness_zones?.length ? `hardiness zone ${answer.site.hardiness_zones.join(" or ")}` : ""].filter(Boolean).join(", ");
    const reached = answer.site.waters ?? [];
    this.main.querySelector("#site-answer").replaceChildren(
      element("p", {}, where ? `The site: ${where}.` : "The site is not known yet: choose a state, or give a position."),
      reached.length
        ? element("ul", {}, ...reached.slice(0, 8).map((water) => element("li", {}, `${water.name || "a water without a name"} (${water.kind}), ${water.relation}, ${metres(water.along_m ?? water.overland_m ?? water.distance_m)}`)))
        : element("p", { className: "note" }, (answer.site.notes ?? []).join(" ") || "No water is known near it. Draw one, or give one by distance."),
      ...(reached.length && answer.site.notes?.length ? [element("p", { className: "hint" }, answer.site.notes.join(" "))] : []),
    );
    const asks = (answer.unsettled ?? []).slice(0, 6);
    this.main.querySelector("#asks").replaceChildren(
      ...(asks.length ? [element("h3", {}, "What would narrow it more"), element("ul", {}, ...asks.map((fact) => element("li", {}, `${fact.question}${fact.of ? ` (${fact.of})` : ""}`)))] : []),
    );
    this.main.querySelector("#as-of").textContent = `As of ${answer.as_of}, store build ${answer.store_build}.`;
    if (this.kept) this.main.querySelector("#changed").replaceChildren(changesNote(changes(this.kept.summary, this.summary()), this.kept.kept_at));
  }

  summary() {
    return Object.fromEntries((this.answer?.plantings ?? []).map((planting) => [`${planting.number}: ${planting.label}`, `${planting.verdict}, ${words.outcomes[planting.outcome] ?? "law not asked"}`]));
  }

  report() {
    const tab = window.open("", "_blank");
    return this.work.run(async (signal) => {
      await openIn(tab, async () => (await this.as("text/html", signal)).blob());
      return "The report is open in a tab of its own.";
    });
  }

  download(type, name) {
    return this.work.run(async (signal) => {
      if (type === "document") save(new Blob([JSON.stringify(this.document(), null, 1)], { type: "application/json" }), name);
      else save(await (await this.as(type, signal)).blob(), name);
      return `${name} is saved.`;
    });
  }

  as(type, signal) {
    return ask("/v1/plan-checks", { method: "POST", body: JSON.stringify(this.document()), headers: { "Content-Type": "application/json", Accept: type }, signal });
  }

  unit() {
    return this.main.querySelector("#unit").value;
  }

  // --- files and kept work ---

  async openFile(event) {
    const file = event.target.files[0];
    event.target.value = "";
    await this.work.run(async (signal) => {
      const fields = new FormData();
      fields.set("file", file);
      const reply = await ask("/place/read", { method: "POST", body: fields, signal });
      await this.take(await reply.json());
      return `${file.name} is open.`;
    });
  }

  async showKept() {
    this.main.querySelector("#kept").replaceChildren(await keptList("plan"));
  }

  async keep() {
    this.kept = await keepWork({ ...(this.kept ? { id: this.kept.id } : {}), kind: "plan", title: this.plan.title || "Plan", plan: this.plan, summary: this.summary() });
    this.work.say("Kept in this browser.");
    this.showKept();
  }

  async openKept(id) {
    const work = await findWork(id);
    if (!work) return this.work.say("This piece of work is no longer kept in this browser.");
    this.kept = work;
    await this.take(work.plan);
  }
}

function group(title, meaning, cards, verdict = "") {
  return element("section", { className: `group is-${verdict}` }, element("h3", {}, title), meaning ? element("p", { className: "hint" }, meaning) : null, element("ul", { className: "cards" }, ...cards));
}

function set(target, name, value) {
  if (value) target[name] = value;
  else delete target[name];
}

function setNumber(target, name, text) {
  const value = Number(text.replace(",", "."));
  if (text.trim() && Number.isFinite(value)) target[name] = value;
  else delete target[name];
}

/** Lengths are kept as typed, with their unit: the service reads them. A bare number gets the unit chosen. */
function setLength(target, name, text, unit) {
  delete target[`${name}_cm`];
  const bare = /^[\d.,]+$/.test(text.trim());
  set(target, name, bare ? `${text.trim()} ${unit}` : text.trim());
}

function lengthText(target, name) {
  return target[name] ?? (target[`${name}_cm`] === undefined ? "" : `${target[`${name}_cm`]} cm`);
}

function choice(target, name, options, changed, open = true, truth = false) {
  const entries = Object.entries(options).map(([value, title]) => new Option(title, value));
  const select = element("select", {
    onchange: (event) => {
      const { value } = event.target;
      if (!value) delete target[name];
      else target[name] = truth ? value === "true" : value;
      changed();
    },
  });
  select.append(...(open ? [new Option("not said", "")] : []), ...entries);
  select.value = target[name] === undefined || target[name] === null ? "" : String(target[name]);
  return select;
}

function sizeText(geometry) {
  if (geometry?.type !== "Polygon") return "";
  const size = squareMetres(geometry.coordinates[0]);
  return `about ${size < 10 ? size.toFixed(1) : Math.round(size)} m² (${Math.round(size / 0.09290304)} sq ft)`;
}
