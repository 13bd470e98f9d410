// Frames of the tracing room without a graphics card, and the way of a 50-MP picture; prints one table.
import { join } from 'node:path';
import { browse, reading, run, scratch, serve } from './desk.mjs';

const FRAMES = 120;
const home = await scratch();
const folder = join(home.folder, 'bench');
await run('begin', folder, '--name', 'Bench');
await run('render', join(home.folder, 'small'), '--count', '1', '--width', '1600', '--height', '1200', '--seed', '1');
await run('add', folder, join(home.folder, 'small'));
await run('render', join(home.folder, 'large'), '--count', '1', '--width', '8660', '--height', '5774', '--seed', '2');

const server = await serve(home.folder, '--examination', folder);
const browser = await browse();
const page = await browser.context.newPage();
let count = 0;
await page.route('**/reading?*', (route) => route.fulfill({ json: reading(count) }));
await page.goto(server.address);
await page.getByRole('heading', { name: 'Bench' }).waitFor();

const rows = [];
for (const [traces, bar] of [[0, ''], [1, ''], [5_000, '≤ 33 ms'], [10_000, ''], [50_000, '≤ 17 ms, redraw ≤ 200 ms']]) {
  count = traces;
  for (const zoom of [1, 4]) rows.push({ ...(await pan(traces, zoom)), bar });
}
console.table(rows);
const heap = await page.evaluate(() => performance.memory?.usedJSHeapSize ?? 0);
console.log(`page's memory with 50,000 traces: ${(heap / 2 ** 20).toFixed(0)} MB of JavaScript heap (bar < 500 MB)`);

await page.unroute('**/reading?*');
await firstTiles();

await browser.close();
server.stop();
await home.remove();

/** Pans for a while and measures the time from frame to frame; checks that traces were drawn and the view really moved. */
async function pan(traces, zoom) {
  await page.goto(`${server.origin}/#tracing/1`);
  await page.reload();
  await page.waitForFunction((want) => document.querySelector('.host')?.micrograph?.overlay && document.querySelector('.say')?.textContent?.includes(`${want} accepted`), traces, { timeout: 60_000 });
  const result = await page.evaluate(
    async ({ frames, zoom }) => {
      const { viewer, overlay } = document.querySelector('.host').micrograph;
      const home = viewer.viewport.getHomeZoom();
      viewer.viewport.zoomTo(home * zoom, undefined, true);
      await new Promise((done) => setTimeout(done, 800));
      const before = { ...overlay.counters };
      const times = [];
      let last = performance.now();
      let [travelled, centre] = [0, viewer.viewport.getCenter(true)];
      for (let n = 0; n < frames; n += 1) {
        const step = (n % 40 < 20 ? 1 : -1) * 0.004 / zoom;
        const next = viewer.viewport.getCenter(true).clone();
        next.x += step;
        viewer.viewport.panTo(next, true);
        await new Promise((done) => requestAnimationFrame(done));
        const now = performance.now();
        times.push(now - last);
        last = now;
        const moved = viewer.viewport.getCenter(true);
        travelled += Math.abs(moved.x - centre.x);
        centre = moved;
      }
      await new Promise((done) => setTimeout(done, 400));
      times.sort((a, b) => a - b);
      const after = overlay.counters;
      return {
        median: times[Math.floor(times.length / 2)],
        p95: times[Math.floor(times.length * 0.95)],
        draws: after.draws - before.draws,
        moves: after.moves - before.moves,
        travelled,
        redraw: after.lastDrawMs,
        drawn: after.lastDrawn,
      };
    },
    { frames: FRAMES, zoom },
  );
  if (!(result.travelled > 0.1 / zoom)) throw new Error(`the view did not move (${result.travelled})`);
  if (result.draws + result.moves < FRAMES / 2) throw new Error(`only ${result.draws} draws and ${result.moves} moves in ${FRAMES} frames`);
  const ms = (value) => Number(value.toFixed(1));
  return { traces, zoom, 'median ms': ms(result.median), 'p95 ms': ms(result.p95), draws: result.draws, moves: result.moves, 'redraw ms': ms(result.redraw), drawn: result.drawn };
}

/** Time from the end of a 50-MP picture's import to its first tiles on screen. */
async function firstTiles() {
  const added = await run('add', folder, join(home.folder, 'large'));
  if (added.code !== 0) throw new Error(added.err);
  const start = performance.now();
  await page.goto(`${server.origin}/#tracing/2`);
  await page.reload();
  await page.waitForFunction(() => document.querySelector('.host')?.micrograph?.viewer?.world?.getItemAt(0)?.getFullyLoaded?.(), undefined, { timeout: 60_000 });
  console.log(`50 MP: all first tiles ${((performance.now() - start) / 1000).toFixed(2)} s after import, page load included (bar < 1 s)`);
}
