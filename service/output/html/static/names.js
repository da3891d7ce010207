// Names of the catalogue, offered while one types; what is typed stays as it is.

import { askJson, debounce, element } from "./app.js";

let lists = 0;

export function installNames(input) {
  const list = element("datalist", { id: `names-${(lists += 1)}` });
  input.after(list);
  input.setAttribute("list", list.id);
  const offer = debounce(async () => {
    const text = input.value.trim();
    if (text.length < 3) return;
    try {
      const found = await askJson(`/offer?q=${encodeURIComponent(text)}`);
      if (input.value.trim() !== text) return;
      list.replaceChildren(...found.names.map(({ name, meant }) => element("option", { value: name, label: name === meant ? "" : meant })));
    } catch {
      list.replaceChildren();
    }
  }, 200);
  input.addEventListener("input", offer);
}
