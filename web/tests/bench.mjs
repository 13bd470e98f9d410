// Frames of the tracing room without a graphics card, and the way of a 50-MP picture; prints one table.
import { readFile, readdir } from 'node:fs/promises';
import { loadavg } from 'node:os';
import { join } from 'node:path';
import { browse, reading, run, scratch, serve } from './desk.mjs';

const FRAMES = 120;
/** Up to this many traces every frame shows them drawn anew. */
const FULLY = 5_000;
const home = await scratch();
const folder = join(home.folder, 'bench');
await run('begin', folder, '--name', 'Bench');
await run('render', join(home.folder, 'small'), '--count', '1', '--width', '1600', '--height', '1200', '--seed', '1');
await run('add', folder, join(home.folder, 'small'));
await run('render', join(home.folder, 'large'), '--count', '1', '--width', '8660', '--height', '5774', '--seed', '2');
const large = join(home.folder, 'large', (await readdir(join(home.folder, 'large'))).find((name) => name.endsWith('.png')));

const server = await serve(home.folder, '--examination', folder);
const browser = await browse();
const page = await browser.context.newPage();
let count = 0;
try {
  await page.route('**/reading?*', (route) => route.fulfill({ json: reading(count) }));
  await page.goto(server.address);
  await page.getByRole('heading', { name: 'Bench' }).waitFor();

  const rows = [];
  for (const [traces, bar] of [[0, ''], [1, ''], [FULLY, '≤ 33 ms, fully redrawn'], [10_000, ''], [50_000, '≤ 17 ms, redraw ≤ 200 ms']]) {
    count = traces;
    for (const zoom of [1, 4]) rows.push({ ...(await pan(traces, zoom)), bar });
  }
  console.table(rows);
  console.log(`memory with 50,000 traces: ${await memory()} (bar < 500 MB)`);

  await page.unroute('**/reading?*');
  await firstTiles();
  console.log(`memory with the 50-MP picture: ${await memory()} (bar < 500 MB)`);
  console.log(`load of the machine at the end, 1 and 5 minutes: ${loadavg().slice(0, 2).map((load) => load.toFixed(1)).join(', ')}`);
} finally {
  await browser.close();
  server.stop();
  await home.remove();
}

/** Pans for a while and measures the time from frame to frame; checks that traces were drawn and the view really moved. */
async function pan(traces, zoom) {
  await page.goto(`${server.origin}/#tracing/1`);
  await page.reload();
  const shown = traces === 0 ? 'Not measured yet' : `${traces} accepted`;
  await page.waitForFunction((want) => document.querySelector('.host')?.micrograph?.overlay && document.querySelector('.say')?.textContent?.includes(want), shown, { timeout: 60_000 });
  const result = await page.evaluate(
    async ({ frames, zoom }) => {
      const { viewer, overlay } = document.querySelector('.host').micrograph;
      const home = viewer.viewport.getHomeZoom();
      viewer.viewport.zoomTo(home * zoom, undefined, true);
      // The page is looked at for a while first, so that its code is compiled and it knows what a drawing costs here.
      for (let n = 0; n < 4; n += 1) {
        const next = viewer.viewport.getCenter(true).clone();
        next.x += (n % 2 === 0 ? 1 : -1) * 0.002;
        viewer.viewport.panTo(next, true);
        await new Promise((done) => setTimeout(done, 250));
      }
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
      // From the last movement to the frame after the last complete drawing, if panning left one to be done.
      const still = performance.now();
      while (overlay.canvas.style.transform !== '') await new Promise((done) => requestAnimationFrame(done));
      await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
      const settled = performance.now() - still;
      times.sort((a, b) => a - b);
      const after = overlay.counters;
      return {
        median: times[Math.floor(times.length / 2)],
        p95: times[Math.floor(times.length * 0.95)],
        draws: after.draws - before.draws,
        moves: after.moves - before.moves,
        travelled,
        redraw: after.lastDrawMs,
        settled,
        drawn: after.lastDrawn,
      };
    },
    { frames: FRAMES, zoom },
  );
  if (!(result.travelled > 0.1 / zoom)) throw new Error(`the view did not move (${result.travelled})`);
  if (result.draws + result.moves < FRAMES / 2) throw new Error(`only ${result.draws} draws and ${result.moves} moves in ${FRAMES} frames`);
  if (traces <= FULLY && result.draws < 0.9 * FRAMES) throw new Error(`${traces} traces were drawn anew in only ${result.draws} of ${FRAMES} frames`);
  const ms = (value) => Number(value.toFixed(1));
  return { traces, zoom, 'median ms': ms(result.median), 'p95 ms': ms(result.p95), draws: result.draws, moves: result.moves, 'redraw ms': ms(result.redraw), 'complete after ms': ms(result.settled), drawn: result.drawn };
}

/** What the page's processes hold: their share of the machine's memory, and JavaScript's part of it. */
async function memory() {
  const heap = await page.evaluate(() => performance.memory?.usedJSHeapSize ?? 0);
  const session = await page.context().browser().newBrowserCDPSession();
  const { processInfo } = await session.send('SystemInfo.getProcessInfo');
  await session.detach();
  const shares = await Promise.all(processInfo.filter(({ type }) => type === 'renderer').map(({ id }) => proportional(id)));
  const megabytes = (bytes) => `${(bytes / 2 ** 20).toFixed(0)} MB`;
  return `${megabytes(shares.reduce((sum, share) => sum + share, 0))} in the page's processes, ${megabytes(heap)} of it JavaScript`;
}

/** Memory of a process with its share of what several use together, bytes (Linux: proportional set size). */
async function proportional(id) {
  const rollup = await readFile(`/proc/${id}/smaps_rollup`, 'utf8').catch(() => '');
  return 1024 * Number(/^Pss:\s+(\d+) kB/m.exec(rollup)?.[1] ?? 0);
}

/** Time from the end of a 50-MP picture's import, as the page shows it, to all tiles of its first view. */
async function firstTiles() {
  await page.goto(`${server.origin}/#captures`);
  await page.reload();
  await page.getByLabel('Pictures to add').setInputFiles(large);
  await page.waitForFunction(() => document.querySelectorAll('article').length === 2, undefined, { timeout: 60_000, polling: 'raf' });
  const start = performance.now();
  await page.locator('article .open').last().click();
  await page.waitForFunction(() => document.querySelector('.host')?.micrograph?.viewer?.world?.getItemAt(0)?.getFullyLoaded?.(), undefined, { timeout: 60_000, polling: 'raf' });
  console.log(`50 MP: first tiles ${((performance.now() - start) / 1000).toFixed(2)} s after import (bar < 1 s)`);
}
