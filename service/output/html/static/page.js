// Saves reloads on the page: counties and maps in place, files dropped, answers as they come. Without it everything still works.

const form = document.querySelector("#ask");
const answer = document.querySelector("#answer");
const status = document.querySelector("#status");
let running = null;

document.documentElement.classList.add("has-script");

// --- the place ---

async function choose(state, county, focus) {
  const query = new URLSearchParams();
  if (state) query.set("state", state);
  if (county) query.set("county", county);
  const reply = await fetch(`/where?${query}`);
  if (!reply.ok) {
    status.textContent = "The map could not be loaded. Choose from the lists, or try again.";
    return;
  }
  const where = await reply.json();
  form.state.value = state;
  if (form.county.dataset.of !== state) {
    form.county.replaceChildren(new Option("Not said", ""), ...where.counties.map(([fips, name]) => new Option(name, fips)));
    form.county.dataset.of = state;
  }
  form.county.value = county;
  document.querySelector("#map").innerHTML = where.map;
  document.querySelector("#map-back").hidden = !state;
  const title = document.querySelector("#map-title");
  title.textContent = county ? `${where.title}. Press on the map to give the position of the site.` : where.title;
  if (focus) title.focus();
}

function pressed(event) {
  const link = event.target.closest("a.place");
  if (link && form.contains(link)) {
    event.preventDefault();
    choose(link.dataset.state ?? "", link.dataset.county ?? "", true);
    return;
  }
  if (event.target.closest("#map-back")) {
    event.preventDefault();
    choose("", "", true);
    return;
  }
  const map = event.target.closest("svg.is-county");
  if (map) pin(map, event);
}

function pin(map, event) {
  const { west, north, eastPerUnit, northPerUnit } = map.dataset;
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(map.getScreenCTM().inverse());
  const longitude = Number(west) + (point.x - 4) * Number(eastPerUnit);
  const latitude = Number(north) - (point.y - 4) * Number(northPerUnit);
  form.at.value = `${longitude.toFixed(4)}, ${latitude.toFixed(4)}`;
  form.at.closest("details").open = true;
  map.querySelector(".pin")?.remove();
  const mark = document.createElementNS("http://www.w3.org/2000/svg", "path");
  mark.setAttribute("class", "pin");
  mark.setAttribute("d", `M${point.x - 9} ${point.y}h18M${point.x} ${point.y - 9}v18`);
  map.append(mark);
  status.textContent = `Position ${form.at.value}.`;
}

// --- files ---

async function take(file) {
  form.plants.value = await file.text();
  form.file.value = "";
  status.textContent = `${file.name} is in the box.`;
  form.plants.focus();
}

// --- answers ---

function shown(html) {
  const template = document.createElement("template");
  template.innerHTML = html;
  return template.content;
}

async function* events(reply) {
  const reader = reply.body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read();
    if (done) break;
    const lines = (rest + value).split("\n");
    rest = lines.pop();
    for (const line of lines) yield JSON.parse(line);
  }
}

function received(event, state) {
  if (event.kind === "head") {
    // The head opens the table that the rows go into; the parser closes it.
    answer.replaceChildren(shown(event.html));
    state.rows = answer.querySelector("tbody");
    state.total = event.total;
  } else if (event.kind === "row") {
    state.rows.append(...shown(`<table><tbody>${event.html}</tbody></table>`).querySelectorAll("tr"));
    status.textContent = `${event.done} of ${state.total} lines.`;
  } else if (event.kind === "progress") {
    status.textContent = `${event.done} of ${event.total} plantings worked out.`;
  } else {
    if (event.kind === "error" || !state.rows) answer.replaceChildren();
    answer.append(shown(event.html));
    status.textContent = event.kind === "error" ? "No answer." : "Done.";
  }
}

async function ask(address) {
  running?.abort();
  running = new AbortController();
  const fields = new FormData(form);
  fields.set("as", "stream");
  answer.replaceChildren();
  answer.setAttribute("aria-busy", "true");
  status.textContent = "Working ...";
  try {
    const reply = await fetch(address, { method: "POST", body: fields, signal: running.signal });
    if (!reply.headers.get("content-type")?.startsWith("application/x-ndjson")) throw new Error(`answered ${reply.status}`);
    const state = {};
    for await (const event of events(reply)) received(event, state);
  } catch (error) {
    if (error.name === "AbortError") return;
    status.textContent = `No answer came (${error.message}). Try again.`;
  }
  answer.removeAttribute("aria-busy");
  answer.focus();
}

function submitted(event) {
  const button = event.submitter;
  if (!button || !form.contains(button) || !button.classList.contains("main")) return;
  event.preventDefault();
  ask(button.getAttribute("formaction") ?? "/check");
}

if (form) {
  form.county.dataset.of = form.state.value;
  document.addEventListener("click", pressed);
  form.state.addEventListener("change", () => choose(form.state.value, "", false));
  form.county.addEventListener("change", () => choose(form.state.value, form.county.value, false));
  form.file.addEventListener("change", () => form.file.files[0] && take(form.file.files[0]));
  form.addEventListener("submit", submitted);
  const drop = document.querySelector("#drop");
  for (const kind of ["dragenter", "dragover"]) {
    drop.addEventListener(kind, (event) => {
      event.preventDefault();
      drop.classList.add("over");
    });
  }
  for (const kind of ["dragleave", "drop"]) drop.addEventListener(kind, () => drop.classList.remove("over"));
  drop.addEventListener("drop", (event) => {
    if (!event.dataTransfer.files.length) return;
    event.preventDefault();
    take(event.dataTransfer.files[0]);
  });
}
