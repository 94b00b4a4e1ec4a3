/**
 * The story of a till and of who buys, told by openapi-fetch over the generated types. Prints what it saw as JSON.
 *
 * In the environment: the service's address (SERVICE), a key (KEY) and the amount of a new price (AMOUNT). It is
 * compiled with `strict`, so that a type of the document that does not fit its use is an error.
 */
import createClient from "openapi-fetch";

import type { components, paths } from "./api";

declare const process: { env: Record<string, string | undefined> };

/** Where an answer can be JSON or CSV, this client asks for JSON; problems are JSON of a type of their own. */
type Json = "application/json" | "application/problem+json";
type Row = components["schemas"]["DishCostAnswer"];
type Price = components["schemas"]["PriceRequest"];

const service = process.env.SERVICE!;
const client = createClient<paths, Json>({ baseUrl: service, headers: { Authorization: `Bearer ${process.env.KEY}` } });
const DISH = { path: { code: "grilled-cap" } };
const INGREDIENT = { path: { code: "beef-topside" } };

/** What came, or the problem as an error: for what has to go well. */
function well<T>(answer: { data?: T; error?: unknown }): T {
    if (answer.data === undefined) {
        throw new Error(JSON.stringify(answer.error));
    }
    return answer.data;
}

/** A row with all its members: who does not ask for `fields` gets no other. */
function whole(row: Row | components["schemas"]["SparseDishCostAnswer"]): Row {
    if (row.dish === undefined || row.food_cost === undefined) {
        throw new Error("a row lacks members that nobody left out");
    }
    return row as Row;
}

async function oneDish() {
    const read = await client.GET("/v1/dish-costs/{code}", { params: DISH });
    const tag = read.response.headers.get("ETag")!;
    const again = await client.GET("/v1/dish-costs/{code}", { params: { ...DISH, header: { "If-None-Match": tag } } });
    const row: Row = well(read);
    return { food_cost: row.food_cost, status: row.status, again: again.response.status };
}

async function wholeMenu() {
    const rows: [string, string | null][] = [];
    let cursor: string | null = null;
    do {
        const query: { limit: number; cursor?: string } = cursor === null ? { limit: 3 } : { limit: 3, cursor };
        const page = well(await client.GET("/v1/dish-costs", { params: { query } }));
        for (const row of page.data.map(whole)) {
            rows.push([row.dish, row.food_cost]);
        }
        cursor = page.next_cursor;
    } while (cursor !== null);
    return rows;
}

async function twoSparseRows(codes: string[]) {
    const query = { codes, fields: ["dish" as const, "food_cost_percent" as const] };
    return well(await client.GET("/v1/dish-costs", { params: { query } })).data;
}

function price(amount: string): Price {
    return { supplier: "fenmoor", amount, pack_quantity: "1", pack_unit: "kg" };
}

async function aDearerIngredient() {
    const standing = well(await client.GET("/v1/dish-costs"));
    const begun = well(await client.GET("/v1/dish-costs/changes", {
        params: { query: { from_revision: standing.revision, from_date: standing.as_of } },
    }));
    const posted = well(await client.POST("/v1/ingredients/{code}/prices", {
        params: { ...INGREDIENT, header: { "Idempotency-Key": '"ts-1"' } },
        body: price(process.env.AMOUNT!),
    }));
    const told = well(await client.GET("/v1/dish-costs/changes", {
        params: { query: { after: begun.next_cursor, wait: 5 } },
    }));
    const moved = told.data.map((change) => [change.dish, [change.before!.food_cost, change.after!.food_cost]]);
    const kinds = new Set(told.data.flatMap((change) => change.causes.map((cause) => cause.kind)));
    return {
        price: posted.id, before: begun.data, moved: Object.fromEntries(moved), kinds: [...kinds].sort(),
        now: (await oneDish()).food_cost,
    };
}

async function whatIsRefused() {
    const refused = await client.POST("/v1/ingredients/{code}/prices", { params: INGREDIENT, body: price("-1") });
    const problem: components["schemas"]["Problem"] = refused.error!;
    const stranger = createClient<paths, Json>({ baseUrl: service });
    const unknown = await stranger.GET("/v1/dish-costs/{code}", { params: DISH });
    return {
        status: problem.status, type: problem.type,
        pointers: problem.errors!.map((fault) => fault.pointer), details: problem.errors!.map((fault) => fault.detail),
        stranger: [unknown.response.status, unknown.error!.type],
    };
}

const menu = await wholeMenu();
console.log(JSON.stringify({
    dish: await oneDish(), menu, sparse: await twoSparseRows([menu[0]![0], menu[1]![0]]),
    dearer: await aDearerIngredient(), refused: await whatIsRefused(),
}));
