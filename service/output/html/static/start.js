// The start: what is kept in this browser, and files of kept work.

import { element, save } from "./app.js";
import { keepWork, keptList, keptWork } from "./keep.js";

export async function open(main) {
  const shelf = main.querySelector("#kept");
  const status = main.querySelector("#kept-status");
  const show = async () => shelf.replaceChildren(await keptList());
  main.querySelector("#kept-box").hidden = false;
  await show();
  main.querySelector("#kept-out").addEventListener("click", async () => {
    const content = JSON.stringify({ reedgate_kept_work: 1, work: await keptWork() });
    save(new Blob([content], { type: "application/json" }), "kept-work.json");
  });
  main.querySelector("#kept-in").addEventListener("change", async (event) => {
    const file = event.target.files[0];
    event.target.value = "";
    try {
      const content = JSON.parse(await file.text());
      if (content.reedgate_kept_work !== 1 || !Array.isArray(content.work)) throw new Error("it is not a file of kept work");
      for (const work of content.work) await keepWork(work);
      status.textContent = `${content.work.length} pieces of work taken in.`;
      await show();
    } catch (error) {
      status.replaceChildren(element("span", {}, `The file was not taken in (${error.message}). Choose a file that this page saved.`));
    }
  });
}
