// A change shows within a second, and none is missed where the connection was away.

import { assert, append, launch, open, origin, until, way } from "./browser.mjs";

const browser = await launch();
const through = await way(origin);
const { page, faults } = await open(browser, through.origin);
const batch = process.env.BOARD_BATCH;
await page.goto(`${through.origin}/board/${process.env.BOARD_FARM}`);
await until("the stream", () => page.evaluate(() => document.getElementById("line").textContent === "live"));

const shown = () => page.evaluate(() => document.getElementById("bays").textContent + document.getElementById("told").textContent);
// A note that changes what stands there, and the time until it does.
async function changed(level) {
  const before = await shown();
  await append(batch, { at: new Date().toISOString(), level: { fill_fraction: level } });
  const noted = Date.now();
  await until("the change", async () => (await shown()) !== before);
  return Date.now() - noted;
}
const times_ms = [];
for (const level of [0.9, 0.5, 0.8, 0.45, 0.75]) {
  times_ms.push(await changed(level));
  if (times_ms.length > 1 && Math.min(...times_ms) < 1000) break;
}
console.log(`a change shows after ${times_ms.join(", ")} ms`);
assert.ok(Math.min(...times_ms) < 1000, `within a second: ${times_ms}`);

// While the connection is away it says so; what happened meanwhile is there once it is back.
through.cut();
await until("word of it", () => page.evaluate(() => document.getElementById("line").classList.contains("lost")));
const before = await shown();
await append(batch, { at: new Date().toISOString(), level: { fill_fraction: 0.3 } });
const asked = page.waitForRequest(request => request.url().includes("/changes"));
through.mend();
const again = await asked;
assert.match((await again.allHeaders())["last-event-id"] ?? "", /^\d+$/, "from the last change that was heard");
await until("what was missed", async () => (await shown()) !== before);
await until("the stream", () => page.evaluate(() => document.getElementById("line").textContent === "live"));

// What is being filled in stays when a change comes.
await page.goto(`${through.origin}/board/${process.env.BOARD_FARM}/batches/${batch}`);
await until("the stream", () => page.evaluate(() => document.getElementById("line").textContent === "live"));
await page.fill("#reading-temperature", "61");
const story = await page.textContent("#story");
await append(batch, { at: new Date().toISOString(), turn: {} });
await until("the turn", async () => (await page.textContent("#story")) !== story);
assert.equal(await page.inputValue("#reading-temperature"), "61");
assert.deepEqual(faults, []);
await browser.close();
through.close();
