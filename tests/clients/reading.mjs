// Appends a core temperature and prints what is told of the batch before and after.
// node reading.mjs SERVICE FEED FARM BATCH TEMPERATURE_C, with an API key in BAYCAST_KEY where the service needs one.
const [service, feed, farm, batch, temperature] = process.argv.slice(2);

/** Asks, and fails where the answer is no good one: its text says why. */
async function ask(path, options = {}) {
  const answer = await fetch(service + path, options);
  if (!answer.ok) throw new Error(`${path}: ${answer.status} ${await answer.text()}`);
  return answer.json();
}

/** What the feed tells of the batch, once nothing is being worked out anew. */
async function told() {
  for (;;) {
    const { pending, batches } = await ask(`${feed}/readiness.json`);
    if (pending === 0) return batches.find((own) => own.batch === batch);
    await new Promise((later) => setTimeout(later, 1000));
  }
}

/** Records a reading of now, once however often it is sent within a minute. */
async function append(temperature_c) {
  const at = new Date().toISOString();
  const headers = { 'content-type': 'application/json', 'idempotency-key': `js ${batch} ${at.slice(0, 16)}` };
  if (process.env.BAYCAST_KEY) headers.authorization = `Bearer ${process.env.BAYCAST_KEY}`;
  const entries = [{ event: { at, reading: { temperature_c, depth_m: 0.5 } } }];
  const path = `/v1/farms/${encodeURIComponent(farm)}/batches/${encodeURIComponent(batch)}/events`;
  await ask(path, { method: 'POST', headers, body: JSON.stringify({ entries }) });
}

const before = await told();
await append(Number(temperature));
const after = await told();
const beds = after.windows.find((window) => window.use === 'bed_dressing');
const [was, is] = [before, after].map((own) => Math.round(own.now.core_c.p50 * 10) / 10);
console.log(`${batch}: ${after.stage}, core ${was} to ${is} °C, beds from ${beds.opens.p50 ?? 'beyond the horizon'}`);
