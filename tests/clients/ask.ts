// What a program in TypeScript writes against the contract; compiled by .ci/contract, never run.
import createClient from "openapi-fetch";
import type { components, paths } from "./made";

type Finding = components["schemas"]["Finding"];
type StockAnswer = components["schemas"]["StockAnswer"];
type PlanCheckAnswer = components["schemas"]["PlanCheckAnswer"];
type Outcome = components["schemas"]["Outcome"];

const client = createClient<paths>({ baseUrl: "http://127.0.0.1:8000" });

export async function findings(label: string): Promise<readonly Finding[]> {
  const { data, error } = await client.GET("/v1/findings", {
    params: { query: { label, jurisdiction: "US-OH", act: ["sell", "possess"] } },
  });
  if (error) throw new Error(`${error.title}: ${error.pointer ?? ""} ${error.next_step ?? ""}`);
  return data.findings;
}

export async function held(labels: string[]): Promise<[string, Outcome][]> {
  const { data, error } = await client.POST("/v1/stock-checks", {
    body: { labels, to: ["US-OH", "US-WI"], act: ["sell"] },
  });
  if (error) throw new Error(error.detail);
  return (data as StockAnswer).lines.flatMap((line) =>
    line.findings.map((finding): [string, Outcome] => [line.name.label, finding.outcome]),
  );
}

export async function plan(): Promise<string> {
  const { data, error } = await client.POST("/v1/plan-checks", {
    body: {
      site: { geometry: { type: "Point", coordinates: [-84.29, 41.68] } },
      plantings: ["Blue flag iris", { label: "Pontederia cordata", count: 6, crown_depth_cm: 10 }],
    },
  });
  if (error) throw new Error(error.type);
  return (data as PlanCheckAnswer).store_build;
}
