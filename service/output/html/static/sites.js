// Many sites: a file of sites with their plantings, on the map and in order.

import { Work, ask, askJson, element, onDrop, openIn, percent, save } from "./app.js";
import { makeMap } from "./map.js";

export function open(main) {
  new SitesRoom(main);
}

class SitesRoom {
  constructor(main) {
    this.main = main;
    this.content = "";
    this.work = new Work(main.querySelector("#status"), main.querySelector("#stop"));
    const input = main.querySelector("#sites-file");
    input.addEventListener("change", () => input.files[0] && this.take(input.files[0]));
    const drop = main.querySelector("#drop");
    onDrop(drop, (file) => this.take(file));
    main.querySelector("#example").addEventListener("click", () => this.example());
    for (const button of main.querySelectorAll("[data-download]")) button.addEventListener("click", () => this.download(button.dataset.download, button.dataset.name));
    main.querySelector("#report").addEventListener("click", () => this.report());
  }

  async example() {
    const reply = await ask("/sites/example");
    await this.take(new File([await reply.blob()], "example.geojson", { type: "application/geo+json" }));
  }

  /** The answer in one form. Long work goes on as a job of the service, asked after until it is done. */
  async answered(accept, signal) {
    const reply = await ask("/v1/community-screenings", { method: "POST", body: this.content, headers: { "Content-Type": "application/geo+json", Accept: accept }, signal });
    if (reply.status !== 202) return reply;
    const job = reply.headers.get("Location");
    try {
      for (;;) {
        await new Promise((resolve) => setTimeout(resolve, 700));
        signal.throwIfAborted();
        const state = await askJson(job, undefined, { signal });
        this.work.say(state.total ? `${state.done} of ${state.total} plantings worked out.` : "Waiting for a place ...");
        if (state.state === "failed") throw new Error(state.error?.detail ?? "the work failed");
        if (state.state === "done") return ask(`${job}/result`, { headers: { Accept: accept }, signal });
      }
    } catch (error) {
      if (signal.aborted) ask(job, { method: "DELETE" }).catch(() => {});
      throw error;
    }
  }

  async take(file) {
    const done = await this.work.run(async (signal) => {
      if (file.name.toLowerCase().endsWith(".gpkg")) {
        const fields = new FormData();
        fields.set("file", file);
        this.content = await (await ask("/sites/read", { method: "POST", body: fields, signal })).text();
      } else this.content = await file.text();
      const answer = await (await this.answered("application/json", signal)).json();
      const features = await (await this.answered("application/geo+json", signal)).json();
      await this.show(answer, features.features);
      return `${answer.sites.length.toLocaleString("en")} sites screened.`;
    });
    if (done) this.main.querySelector("#answer-title").focus();
  }

  async show(answer, features) {
    this.main.querySelector("#answer").hidden = false;
    this.main.querySelector("#as-of").textContent = `As of ${answer.as_of}, store build ${answer.store_build}.`;
    const problems = answer.problems ?? [];
    this.main.querySelector("#problems").replaceChildren(...(problems.length ? [element("ul", { className: "problem" }, ...problems.map((one) => element("li", {}, `${one.detail} ${one.next_step ?? ""} `, element("code", {}, one.pointer))))] : []));
    const sites = features.map((feature) => feature.properties).filter((site) => site.layer === "site").sort((a, b) => a.rank - b.rank);
    this.main.querySelector("#sites-table tbody").replaceChildren(...sites.map((site) => this.row(site)));
    this.map ??= await makeMap(this.main.querySelector("#map"), this.main.querySelector("#map-tools"));
    this.map.show(
      features
        .filter((feature) => feature.geometry && ["site", "water"].includes(feature.properties.layer))
        .map(({ geometry, properties }) => ({
          what: properties.layer,
          geometry,
          name: properties.rank ? `${properties.rank}. ${properties.name}` : properties.name,
          onPress: () => this.point(properties.rank),
        })),
    );
    this.map.fit();
  }

  point(rank) {
    const row = this.main.querySelector(`#sites-table tr[data-rank="${rank}"]`);
    for (const one of this.main.querySelectorAll("#sites-table tr")) one.classList.toggle("pointed", one === row);
    row?.scrollIntoView({ block: "center" });
    row?.focus();
  }

  row(site) {
    const chance = site.likely ?? null;
    return element(
      "tr",
      { tabIndex: -1, data: { rank: site.rank } },
      element("td", { data: { is: "Order" } }, String(site.rank)),
      element("th", { scope: "row" }, element("bdi", {}, site.name || "a site without a name")),
      element("td", { data: { is: "Likely to reach a water" } }, chance === null ? "not worked out" : percent(chance)),
      element("td", { data: { is: "Why" } }, site.why ?? ""),
    );
  }

  download(kind, name) {
    return this.work.run(async (signal) => {
      save(await (await this.answered(kind, signal)).blob(), name);
      return `${name} is saved.`;
    });
  }

  report() {
    const tab = window.open("", "_blank");
    return this.work.run(async (signal) => {
      await openIn(tab, async () => (await this.answered("text/html", signal)).blob());
      return "The summary is open in a tab of its own.";
    });
  }
}
