// Kept work: lists and plans stay in this browser until deleted. Nothing is kept on the server.

import { element } from "./app.js";

const NAME = "reedgate";
const SHELF = "work";

function database() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(SHELF, { keyPath: "id" });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

async function inStore(mode, work) {
  const base = await database();
  try {
    return await new Promise((resolve, reject) => {
      const transaction = base.transaction(SHELF, mode);
      const request = work(transaction.objectStore(SHELF));
      transaction.oncomplete = () => resolve(request?.result);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  } finally {
    base.close();
  }
}

/** Every kept piece of work of a kind ("list", "plan"), or of any; newest first. */
export async function keptWork(kind) {
  const all = (await inStore("readonly", (shelf) => shelf.getAll())) ?? [];
  return all.filter((work) => !kind || work.kind === kind).sort((a, b) => b.kept_at.localeCompare(a.kept_at));
}

export const findWork = (id) => inStore("readonly", (shelf) => shelf.get(id));
export const dropWork = (id) => inStore("readwrite", (shelf) => shelf.delete(id));

/** Keeps a piece of work; one with the same id is replaced. */
export async function keepWork(work) {
  const whole = { id: crypto.randomUUID?.() ?? String(Date.now() + Math.random()), ...work, kept_at: new Date().toISOString() };
  await inStore("readwrite", (shelf) => shelf.put(whole));
  return whole;
}

/** What changed between two summaries: both are objects from a line to what was said of it. */
export function changes(before, after) {
  const said = [];
  for (const [line, now] of Object.entries(after)) {
    const then = before?.[line];
    if (then !== undefined && then !== now) said.push({ line, then, now });
  }
  return said;
}

export function changesNote(changed, keptAt) {
  const day = keptAt.slice(0, 10);
  if (!changed.length) return element("p", { className: "note" }, `Nothing changed since ${day}.`);
  return element(
    "details",
    { className: "note", open: changed.length < 8 },
    element("summary", {}, `What changed since ${day}: ${changed.length} ${changed.length === 1 ? "line" : "lines"}`),
    element("ul", {}, ...changed.map(({ line, then, now }) => element("li", {}, element("bdi", {}, line), `: was ${then}, now ${now}`))),
  );
}

/** A list of kept work with what can be done with it. */
export async function keptList(kind, room) {
  let works;
  try {
    works = await keptWork(kind);
  } catch {
    return element("p", { className: "hint" }, "This browser keeps nothing here (private window or storage switched off). Download your work as a file instead.");
  }
  if (!works.length) return element("p", { className: "hint" }, "Nothing kept yet. What you keep stays in this browser until you delete it.");
  return element(
    "ul",
    { className: "kept" },
    ...works.map((work) =>
      element(
        "li",
        {},
        element("a", { href: `${room ?? (work.kind === "plan" ? "/place" : "/list")}?kept=${encodeURIComponent(work.id)}` }, element("bdi", {}, work.title || "without a title")),
        element("span", { className: "hint" }, ` ${work.kind === "plan" ? "plan" : "list"}, kept ${work.kept_at.slice(0, 10)}. `),
        element("button", {
          type: "button",
          className: "small",
          textContent: "Delete",
          "aria-label": `Delete ${work.title || "work without a title"}`,
          onclick: async (event) => {
            await dropWork(work.id);
            event.target.closest("li").remove();
          },
        }),
      ),
    ),
  );
}
