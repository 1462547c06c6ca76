// The four jobs of the README's session, by a client whose types were generated from the API's document.
//
//     LEDGERBOARD_URL=.. LEDGERBOARD_TOKEN=.. node four_jobs.js

import assert from "node:assert/strict";
import { randomUUID } from "node:crypto";

import createClient from "openapi-fetch";

import type { components, paths } from "./ledgerboard.js";

type Recorded = components["schemas"]["RecordedBody"];
type Problem = components["schemas"]["Problem"];
interface Answer {
  data?: Recorded;
  error?: Problem;
  response: Response;
}

function recorded({ data, error, response }: Answer): Recorded {
  assert(data !== undefined, JSON.stringify(error));
  assert.equal(response.status, 201);
  assert(data.recorded);
  return data;
}

function made(answer: Answer): string {
  const { id } = recorded(answer);
  assert(typeof id === "string");
  return id;
}

const door = createClient<paths>({
  baseUrl: process.env["LEDGERBOARD_URL"] ?? "http://127.0.0.1:8321",
  headers: { Authorization: `Bearer ${process.env["LEDGERBOARD_TOKEN"]}` },
});

const cash = made(await door.POST("/v1/accounts", { body: { name: "Cash", kind: "cash" } }));
const room = made(await door.POST("/v1/projects", { body: { name: "The box room", place: "own_home" } }));
const first = made(await door.POST("/v1/episodes", { body: { title: "Out with the old", project: room } }));
const second = made(await door.POST("/v1/episodes", { body: { title: "Panelling", project: room } }));

// One: the old dresser, sold for 180.00 in cash, for this episode. A second copy under the same key changes nothing.
const key = randomUUID();
const sale = () =>
  door.POST("/v1/furniture/sale", {
    params: { header: { "Idempotency-Key": key } },
    body: {
      name: "Old dresser",
      date: "2025-03-01",
      gross: "180.00",
      paid_into: cash,
      acquired_on: "2015-05-01",
      basis: "420.00",
      episode: first,
    },
  });
const sold = await sale();
const again = await sale();
assert.equal(made(again), made(sold));
assert.equal(again.response.headers.get("Idempotency-Replayed"), "true");
assert(recorded(sold).notes.some((note) => note.includes("240.00")));

// Two: a nailer of 300.00, attributed to two episodes by hours.
const nailer = made(
  await door.POST("/v1/tools", {
    body: {
      name: "Nailer",
      date: "2025-03-02",
      origin: "bought",
      cost: "300.00",
      paid_from: cash,
      method: "per_use_hour",
      hours_expected: "60",
    },
  }),
);
recorded(
  await door.POST("/v1/tools/{id}/uses", {
    params: { path: { id: nailer } },
    body: {
      uses: [
        { date: "2025-03-03", episode: first, hours: "4" },
        { date: "2025-03-20", episode: second, hours: "2.5" },
      ],
    },
  }),
);

// Three: what the first episode truly cost: four hours of five.
const statement = await door.GET("/v1/episodes/{id}/statement", { params: { path: { id: first } } });
// It could be a table or a page to print as well; JSON was asked for.
assert(typeof statement.data === "object", JSON.stringify(statement.error));
assert(statement.data.reconciles);
assert.equal(statement.data.cost_total, "20.00");

// Four: the year, as a spreadsheet opens it.
const summary = await door.GET("/v1/tax-years/{year}/summary", {
  params: { path: { year: 2025 }, query: { format: "csv" } },
  parseAs: "text",
});
assert.equal(summary.response.status, 200);
const lines = summary.data?.split("\r\n") ?? [];
assert(lines.some((line) => line.split(",").includes("180.00")));
console.log(`four jobs done: ${lines.length} lines of the year`);
