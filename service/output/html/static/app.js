// What every room shares: asking the service, signing in, moving between rooms, saying how work goes.

const TOKEN = "reedgate-token";

export class Refused extends Error {
  constructor(problem, status) {
    super([problem.detail ?? problem.title ?? `The service answered ${status}.`, problem.next_step].filter(Boolean).join(" "));
    this.pointer = problem.pointer ?? "";
    this.status = status;
  }
}

/** A request to this service; the token of this tab goes along, and is asked for where one is needed. */
export async function ask(path, options = {}) {
  const headers = new Headers(options.headers);
  const token = sessionStorage.getItem(TOKEN);
  if (token) headers.set("Authorization", `Bearer ${token}`);
  const reply = await fetch(path, { ...options, headers });
  if (reply.status === 401) {
    await signIn(token ? "This token was not taken. Give another one." : "");
    return ask(path, options);
  }
  if (!reply.ok) throw new Refused(await reply.json().catch(() => ({})), reply.status);
  return reply;
}

/** The answer as JSON. A `body` that is an object goes out as JSON. */
export async function askJson(path, body, options = {}) {
  const sent = body === undefined ? {} : { method: "POST", body: JSON.stringify(body), headers: { "Content-Type": "application/json" } };
  const headers = { Accept: "application/json", ...sent.headers, ...options.headers };
  return (await ask(path, { ...sent, ...options, headers })).json();
}

/** The lines of a streamed answer, one object each. */
export async function* events(reply) {
  const reader = reply.body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read();
    if (done) break;
    const lines = (rest + value).split("\n");
    rest = lines.pop();
    for (const line of lines) if (line) yield JSON.parse(line);
  }
  if (rest) yield JSON.parse(rest);
}

let signing = null;

/** Asks for the token once, however many requests wait for it. It is kept for this tab alone. */
function signIn(word) {
  signing ??= new Promise((resolve) => {
    const dialog = document.querySelector("#sign-in");
    dialog.querySelector("[data-word]").textContent = word;
    const form = dialog.querySelector("form");
    form.onsubmit = () => {
      sessionStorage.setItem(TOKEN, form.token.value.trim());
      form.token.value = "";
      signing = null;
      resolve();
    };
    dialog.oncancel = (event) => event.preventDefault();
    dialog.showModal();
  });
  return signing;
}

/** Saves what was answered as a file. */
export function save(blob, name) {
  const link = Object.assign(document.createElement("a"), { href: URL.createObjectURL(blob), download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

/** Opens a document that was answered in a tab of its own. Called from a press, so that no blocker stops it. */
export async function openIn(tab, work) {
  try {
    const blob = await work();
    tab.location = URL.createObjectURL(blob);
  } catch (error) {
    tab.close();
    throw error;
  }
}

export function element(name, properties = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(properties)) {
    if (key === "data") Object.assign(made.dataset, value);
    else if (key.includes("-") || key === "role" || key === "for") made.setAttribute(key, value);
    else made[key] = value;
  }
  made.append(...children.filter((child) => child !== null && child !== undefined && child !== false));
  return made;
}

/** Hands on the first file that is dropped on a box. */
export function onDrop(box, take) {
  for (const kind of ["dragenter", "dragover"]) {
    box.addEventListener(kind, (event) => {
      event.preventDefault();
      box.classList.add("over");
    });
  }
  for (const kind of ["dragleave", "drop"]) box.addEventListener(kind, () => box.classList.remove("over"));
  box.addEventListener("drop", (event) => {
    if (!event.dataTransfer.files.length) return;
    event.preventDefault();
    take(event.dataTransfer.files[0]);
  });
}

export function debounce(work, wait) {
  let timer;
  return (...values) => {
    clearTimeout(timer);
    timer = setTimeout(() => work(...values), wait);
  };
}

export const words = JSON.parse(document.querySelector("#words").textContent);

/** Long work with a line that says how far it is, and a button that stops it. */
export class Work {
  constructor(status, stop) {
    this.status = status;
    this.stop = stop;
    stop.addEventListener("click", () => this.running?.abort());
  }

  async run(work) {
    this.running?.abort();
    const running = (this.running = new AbortController());
    this.stop.hidden = false;
    this.say("Working ...");
    try {
      this.say((await work(running.signal, (text) => this.running === running && this.say(text))) ?? "");
    } catch (error) {
      if (this.running !== running) return false;
      if (error.name === "AbortError") this.say("Stopped. What had come is shown; press again to start over.");
      else this.say(error instanceof Refused ? error.message : `No answer came (${error.message}). Check the connection and press again.`);
      return false;
    } finally {
      if (this.running === running) {
        this.running = null;
        this.stop.hidden = true;
      }
    }
    return true;
  }

  say(text) {
    this.status.textContent = text;
  }
}

export function percent(value) {
  if (value > 0 && value < 0.005) return "under 1%";
  if (value < 1 && value > 0.995) return "over 99%";
  return `${Math.round(value * 100)}%`;
}

export function metres(value) {
  if (value === null || value === undefined) return "";
  const feet = value / 0.3048;
  if (value < 950) return `${Math.round(value)} m (${feet < 950 ? `${Math.round(feet)} ft` : `${(feet / 5280).toFixed(1)} mi`})`;
  return `${(value / 1000).toFixed(1)} km (${(feet / 5280).toFixed(1)} mi)`;
}

// --- moving between rooms, with the token of the tab where one is needed ---

const opened = new Set();

async function openRoom() {
  const main = document.querySelector("main");
  const room = main.dataset.room;
  if (!room || opened.has(main)) return;
  opened.add(main);
  (await import(`./${room}.js`)).open(main);
  main.dataset.ready = "";
}

async function visit(address, push) {
  const text = await (await ask(address, { headers: { Accept: "text/html" } })).text();
  const found = new DOMParser().parseFromString(text, "text/html");
  document.querySelector("main").replaceWith(document.adoptNode(found.querySelector("main")));
  document.title = found.title;
  if (push) history.pushState(null, "", address);
  window.scrollTo(0, 0);
  await openRoom();
}

function followsByHand(event, link) {
  return sessionStorage.getItem(TOKEN) && link.origin === location.origin && !link.hash && !link.download && !link.target && event.button === 0 && !event.metaKey && !event.ctrlKey && !event.shiftKey;
}

function installMoving() {
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    if (!link || event.defaultPrevented || !followsByHand(event, link)) return;
    event.preventDefault();
    visit(link.href, true);
  });
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "get" || !sessionStorage.getItem(TOKEN)) return;
    event.preventDefault();
    visit(`${form.action}?${new URLSearchParams(new FormData(form))}`, true);
  });
  window.addEventListener("popstate", () => sessionStorage.getItem(TOKEN) && visit(location.href, false));
  window.addEventListener("beforeprint", () => document.querySelectorAll("details").forEach((part) => (part.open = true)));
}

document.documentElement.classList.add("has-script");
installMoving();
// A page that only says "sign in" fetches what it stands for.
if (document.body.dataset.closed !== undefined) visit(location.href, false);
else openRoom();
