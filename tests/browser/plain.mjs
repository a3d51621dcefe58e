// The board without JavaScript: whole, and its form too.

import { PHONE, assert, events, launch, open, origin } from "./browser.mjs";

const browser = await launch();
const { context, page, faults } = await open(browser, origin, { javaScriptEnabled: false, viewport: PHONE });
const batch = process.env.BOARD_BATCH;
const board = `${origin}/board/${process.env.BOARD_FARM}`;

await page.goto(board);
assert.ok((await page.locator(".plot").count()) > 5, "bays");
assert.ok((await page.locator(".jobs li").count()) > 0, "jobs");
assert.ok((await page.locator(".season .strip").count()) > 5, "the season");
assert.ok((await page.locator(".mind li").count()) > 3, "cautions");
assert.match(await page.textContent(".as-of"), /\d\d:\d\d, \d+ [A-Z]/, "when it is from");

// The plan: from the board and back, with its steps, needs in both units and what each bay holds.
await page.click(".to a");
assert.equal(new URL(page.url()).pathname, `/board/${process.env.BOARD_FARM}/plan`);
assert.match(await page.textContent(".soon .week.this h3"), /^This week, from \d+ [A-Z]/);
assert.ok((await page.locator(".week li").count()) > 3, "steps");
for (const text of await page.locator(".week .do").allTextContents()) assert.match(text, /^(Fill|Close|Turn|Spread from|Empty|Leave|Cover) \S/);
for (const text of await page.locator(".week .amount").allTextContents()) assert.match(text, /^\d+\.\d\d m³ · \d+ barrows?$/);
for (const text of await page.locator(".week .why").allTextContents()) assert.match(text, /\S.*[.!]\s*$/, "a reason in a sentence");
const needs = await page.locator(".needs .all > li").allTextContents();
assert.deepEqual(needs.map(text => /garlic beds|tunnel beds/.exec(text)?.[0]), ["garlic beds", "tunnel beds"]);
for (const text of needs) assert.match(text, /Needed\s*\d+\.\d\d m³ \d+ barrows?\s*Expected\s*\d+\.\d\d m³ \d+ barrows?\s*Eight in ten\s*\d+\.\d\d to \d+\.\d\d m³ \d+ to \d+ barrows/);
// Three cubic metres are not there, and what would mend it is told.
assert.match(needs[1], /Short by\s*\d\.\d\d m³ \d+ barrows/);
assert.ok((await page.locator(".needs .short .remedies li").count()) > 0, "remedies");
assert.equal(await page.locator(".holds > ul > li").count(), 7, "bays");
for (const strip of await page.locator(".holds .strip").all()) assert.match(await strip.getAttribute("aria-label"), /^[a-z]+-\d: \S/);
assert.ok((await page.locator(".mind li").count()) > 3, "cautions");
const size = Buffer.byteLength(await page.content());
assert.ok(size < 150_000, `the plan's page: ${size} bytes`);
await page.click(".back a");
assert.equal(page.url(), board);

await page.goto(`${board}/batches/${batch}`);
const before = (await events(batch)).length;
await page.fill("#reading-temperature", "180");
await page.fill("#reading-depth", "9000");
await page.click(".note button");
assert.match(await page.textContent("#reading-depth-fault"), /0 to 400 cm/);
assert.equal(await page.inputValue("#reading-temperature"), "180", "what was typed stays");
await page.fill("#reading-depth", "50");
await page.click(".note button");
assert.match(await page.textContent("#reading-temperature-fault"), /180.*95/, "the service's own range");
assert.equal((await events(batch)).length, before, "nothing was recorded");

await page.fill("#reading-temperature", "133");
await page.check("input[name=unit][value=f]");
await page.check("input[name=zone][value=edge]");
// What the form sends, to send it again as a second tap does.
const form = Object.fromEntries(await page.$$eval("form.note:first-of-type input", inputs =>
  inputs.filter(input => input.form === inputs[0].form && (input.type !== "radio" || input.checked)).map(input => [input.name, input.value])));
await page.click(".note button");
assert.match(page.url(), /\?noted#note$/);
assert.equal((await page.textContent("#outcome")).trim(), "Noted.");
const again = await context.request.post(`${board}/batches/${batch}`, { form, headers: { "sec-fetch-site": "same-origin" }, maxRedirects: 0 });
assert.equal(again.status(), 303);
const after = await events(batch);
assert.equal(after.length, before + 1, "recorded once");
assert.deepEqual(after.at(-1).event.reading, { temperature_f: 133, depth_m: 0.5, zone: "edge" });

// Each of the other forms, as it comes.
for (const [kind, fields, detail] of [
  ["moisture", [["check", "input[name=squeeze][value=damp]"]], { moisture: { squeeze: "damp" } }],
  ["level", [["fill", "#level-level", "55"]], { level: { fill_fraction: 0.55 } }],
  ["turn", [], { turn: {} }],
  ["watering", [["fill", "#watering-litres", "20"]], { watering: { litres: 20 } }],
  ["cover", [["check", "input[name=state][value=on]"]], { cover: { state: "on" } }],
  ["addition", [["selectOption", "#addition-material", "grass_mowings"], ["fill", "#addition-barrows", "2"]], { addition: { feedstock: "grass_mowings", barrows: 2, preparation: "as_listed" } }],
  ["withdrawal", [["fill", "#withdrawal-volume", "0.1"]], { withdrawal: { volume_m3: 0.1 } }],
  ["firming", [], { firming: {} }],
]) {
  const own = page.locator(`details:has(input[value=${kind}])`);
  await own.locator("summary").click();
  for (const [act, field, value] of fields) await own.locator(field)[act](value);
  await own.locator("button").click();
  assert.equal((await page.textContent("#outcome")).trim(), "Noted.", kind);
  const { at, id, ...told } = (await events(batch)).at(-1).event;
  assert.deepEqual(told, detail);
}
assert.deepEqual(faults, []);
await browser.close();
