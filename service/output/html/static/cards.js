// One planting as a card: what it is, what stands against it, how deep, what would change it.

import { element, percent, words } from "./app.js";

const VERDICTS = { "nothing-against": "Nothing found against it", "with-care": "With care", "hold-back": "Hold back" };
const NATIVITY = { native: "Native here", introduced: "Introduced here", unknown: "Whether it is native here is not known" };

export function planCard(planting, said, room) {
  const title = said?.name?.candidates?.length ? said.name.candidates.map((one) => one.accepted_name).slice(0, 3).join(" or ") : null;
  const card = element(
    "li",
    { className: `card-plant is-${said?.verdict ?? "open"}` },
    element("h4", {}, element("bdi", {}, planting.label), said ? element("span", { className: `verdict is-${said.verdict}` }, VERDICTS[said.verdict]) : null),
    element("p", {}, title ? element("i", {}, title) : said ? "No plant is known by this name." : "", said && !said.name.confirmed && title ? element("span", { className: "mark" }, " not confirmed") : null),
  );
  if (said) card.append(...facts(planting, said, room));
  card.append(fields(planting, room));
  return card;
}

function facts(planting, said, room) {
  const parts = [];
  if (said.conditions?.length) parts.push(element("ul", { className: "conditions" }, ...said.conditions.map((line) => element("li", {}, line))));
  const depth = (said.fit ?? []).flatMap((fit) => fit.aspects).find((aspect) => aspect.name === "depth");
  const lines = [];
  if (said.outcome) lines.push(`Law, strictest: ${words.outcomes[said.outcome]}.`);
  if (said.nativity) lines.push(`${NATIVITY[said.nativity.status]}${said.nativity.scope === "region" && said.nativity.status !== "unknown" ? " (by region)" : ""}.`);
  if (said.restricted_in?.length) lines.push(`Barred or limited in ${said.restricted_in.length} ${said.restricted_in.length === 1 ? "jurisdiction" : "jurisdictions"}.`);
  const { escape } = said;
  if (escape?.class) {
    lines.push(`Gets out and stays within ten years: likely ${percent(escape.likely)} (${percent(escape.low)} to ${percent(escape.high)}), ${escape.class}${escape.may_reach ? `, may reach ${escape.may_reach}` : ""}.`);
    const beside = (escape.compared_with ?? []).slice(0, 2).map((plant) => plant.words);
    if (beside.length) lines.push(`At the same place: ${beside.join("; ")}.`);
  }
  if (escape?.already_here && !escape.native) lines.push(`${escape.already_here.words[0].toUpperCase()}${escape.already_here.words.slice(1)}.`);
  parts.push(element("p", { className: "facts" }, lines.join(" ")));
  for (const harm of said.harms ?? [])
    parts.push(element("p", { className: "hint" }, `Where it got out: ${harm.text} (${harm.verified ? "" : "unverified, "}${harm.source})`));
  if (depth) parts.push(element("p", { className: "hint" }, depth.found, depth.change ? ` ${typeof depth.change === "string" ? depth.change : (depth.change.text ?? "")}` : ""));
  const instead = said.substitutes?.plants ?? [];
  if (instead.length)
    parts.push(
      element(
        "div",
        { className: "instead" },
        element("b", {}, "Instead: "),
        ...instead.slice(0, 4).map((plant) =>
          element("button", { type: "button", className: "small", textContent: plant.common_name ? `${plant.accepted_name} (${plant.common_name})` : plant.accepted_name, title: plant.why ?? "", onclick: () => room.replace(plant.accepted_name) }),
        ),
      ),
    );
  else if (said.verdict === "hold-back" && said.substitutes?.reason) parts.push(element("p", { className: "hint" }, said.substitutes.reason));
  const places = room.state ? `&in=${room.state}` : "";
  parts.push(element("p", {}, element("a", { href: `/plant?label=${encodeURIComponent(planting.label)}${places}` }, "The law on it, with sources")));
  return parts;
}

function fields(planting, room) {
  const set = (name, value) => {
    if (value === "" || value === null) delete planting[name];
    else planting[name] = value;
    room.change();
  };
  const place = element("select", { onchange: (event) => set("place", event.target.value) }, new Option("not said", ""), ...room.places.map((name) => new Option(name, name)));
  place.value = planting.place ?? "";
  const key = `${planting.label}`;
  return element(
    "div",
    { className: "fields" },
    element("label", { className: "field" }, element("span", {}, "How many"), element("input", { value: planting.count ?? "", inputMode: "numeric", size: 5, data: { field: `count ${key}` }, onchange: (event) => set("count", Number.parseInt(event.target.value, 10) || null) })),
    element("label", { className: "field" }, element("span", {}, "In"), place),
    element(
      "label",
      { className: "field" },
      element("span", {}, "Water over the crown"),
      element("input", {
        value: room.lengthText("crown_depth"),
        placeholder: room.unit === "in" ? "4 in" : "10 cm",
        size: 8,
        data: { field: `depth ${key}` },
        onchange: (event) => {
          room.setLength("crown_depth", event.target.value);
          room.change();
        },
      }),
    ),
    element("button", { type: "button", className: "small", onclick: room.drop }, "Take out", element("span", { className: "unseen" }, ` ${planting.label}`)),
  );
}
