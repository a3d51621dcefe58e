// At the heap without a signal: a note is kept on the phone, and arrives once.

import { PHONE, assert, events, launch, open, origin, pictures, until, way } from "./browser.mjs";

const browser = await launch();
const through = await way(origin);
const { context, page, faults } = await open(browser, through.origin, { viewport: PHONE });
const batch = process.env.BOARD_BATCH;
const at = `${through.origin}/board/${process.env.BOARD_FARM}/batches/${batch}`;
const before = (await events(batch)).length;
// Not a number until the page has counted, which it does after it has tried to send.
const waiting = () => page.evaluate(() => Number(document.getElementById("waiting").dataset.count));
const outcome = () => page.textContent("#outcome");

await page.goto(at);
await page.evaluate(() => navigator.serviceWorker.ready);
await until("the page is kept", () => page.evaluate(async path => !!navigator.serviceWorker.controller && !!(await (await caches.open("board-pages")).match(path)), new URL(at).pathname));

const lose = async () => { through.cut(); await context.setOffline(true); };
const find = async () => { through.mend(); await context.setOffline(false); };

await lose();
await page.fill("#reading-temperature", "64");
// Two taps in a row, as with gloves.
await page.evaluate(() => { const button = document.querySelector(".note button"); button.click(); button.click(); });
await until("it is kept", async () => (await waiting()) === 1);
await until("word of it", async () => (await outcome()).startsWith("Kept on this device"));
assert.match(await page.textContent("#waiting"), /^1 note is waiting on this device for a signal/);

// The page opens again, says that it was kept, and still has the note.
await page.reload();
assert.ok(await page.isVisible(".no-signal"), "it says that it is not fresh");
await until("it still waits", async () => (await waiting()) === 1);
await page.screenshot({ path: `${pictures}/offline-390x844.png` });
await page.click("summary:has-text('How high it stands')");
await page.fill("#level-level", "47");
await page.click("details:has(input[value=level]) button");
await until("both wait", async () => (await waiting()) === 2);
assert.equal((await events(batch)).length, before, "nothing has arrived");

await find();
await until("all is sent", async () => (await waiting()) === 0);
const arrived = (await events(batch)).slice(before).map(item => item.event);
assert.deepEqual(arrived.map(({ reading, level }) => reading ?? level), [{ temperature_c: 64 }, { fill_fraction: 0.47 }], "each once, in order");

// An answer that is lost on its way: the note is sent again, and recorded once.
await page.reload();
assert.ok(!(await page.isVisible(".no-signal")), "fresh again");
let lost = 0;
await page.route("**/batches/*", async route => {
  if (route.request().method() !== "POST" || lost > 0) return route.continue();
  lost += 1;
  await route.fetch();
  await route.abort();
});
await page.fill("#reading-temperature", "63");
await page.click(".note button");
await until("it waits", async () => (await waiting()) === 1);
assert.equal((await events(batch)).length, before + 3, "it has arrived, unknown to the phone");
await page.reload();
await until("it is sent again", async () => (await waiting()) === 0 && lost === 1);
assert.equal((await events(batch)).length, before + 3, "recorded once");

// One that is refused when it is sent at last is not lost without a word.
await lose();
await page.fill("#reading-temperature", "300");
await page.click(".note button");
await until("it waits", async () => (await waiting()) === 1);
// Until the form is done with it: what is refused before that is told beside the fields.
await until("word of it", async () => (await outcome()).startsWith("Kept on this device"));
await find();
await until("it is told", async () => /was not taken.*95/.test(await page.textContent("#waiting")));
await page.click("#waiting button");
await until("it is thrown away", () => page.evaluate(() => document.getElementById("waiting").hidden));
assert.equal((await events(batch)).length, before + 3);

// Who signs out leaves no page behind.
await page.evaluate(() => fetch("/board/sign-out", { method: "POST" }));
await until("no page is kept", () => page.evaluate(async () => !(await caches.has("board-pages")) || (await (await caches.open("board-pages")).keys()).length === 0));
assert.deepEqual(faults, []);
await browser.close();
through.close();
