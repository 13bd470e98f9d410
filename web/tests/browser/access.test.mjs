// Every room for everyone: axe-core in light and dark, and the keyboard alone.
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { browse, reading, run, scratch, serve } from '../desk.mjs';

const axe = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const ROOMS = ['Object', 'Captures', 'Tracing', 'Lay', 'Weighing', 'Next visit', 'Form', 'Stone', 'Report'];
let [home, server, browser, page] = [];

before(async () => {
  home = await scratch();
  const folder = join(home.folder, 'small');
  assert.equal((await run('begin', folder, '--name', 'Small bowl')).code, 0);
  await run('render', join(home.folder, 'pictures'), '--count', '2', '--width', '480', '--height', '360', '--seed', '3');
  await run('add', folder, join(home.folder, 'pictures'));
  await run('measure', folder);
  server = await serve(home.folder, '--examination', folder);
  browser = await browse({ bypassCSP: true });
  page = await browser.context.newPage();
  await page.goto(server.address);
  await page.getByRole('heading', { name: 'Small bowl' }).waitFor();
});

after(async () => {
  await browser?.close();
  server?.stop();
  await home?.remove();
});

async function findings() {
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() => globalThis.axe.run(document, { iframes: false }));
  return violations
    .filter(({ impact }) => impact === 'serious' || impact === 'critical')
    .map(({ id, nodes }) => `${id}: ${nodes.map((node) => node.html).slice(0, 3).join(' | ')}`);
}

for (const theme of ['light', 'dark']) {
  for (const room of ROOMS) {
    test(`${room} has no serious finding, ${theme}`, async () => {
      await page.evaluate((wanted) => localStorage.setItem('rubstone-theme', wanted), theme);
      await page.reload();
      await page.getByRole('navigation', { name: 'Rooms' }).getByRole('button', { name: room, exact: true }).click();
      await page.waitForLoadState('networkidle').catch(() => undefined);
      assert.deepEqual(await findings(), []);
    });
  }
}

test('a picture with 10,000 traces and their table has no serious finding', async () => {
  await page.route('**/reading?*', (route) => route.fulfill({ json: reading(10_000) }));
  await page.goto(`${server.origin}/#tracing`);
  await page.reload();
  await page.waitForFunction(() => document.querySelector('.say')?.textContent?.includes('10000 accepted'));
  await page.keyboard.press('t');
  await page.getByRole('table').first().waitFor();
  assert.deepEqual(await findings(), []);
  await page.unroute('**/reading?*');
});

test('every room is reached by the keyboard, and focus is seen', async () => {
  await page.reload();
  await page.getByRole('heading', { name: 'Small bowl' }).waitFor();
  const reached = new Set();
  for (let n = 0; n < 40 && reached.size < ROOMS.length; n += 1) {
    await page.keyboard.press('Tab');
    const at = await page.evaluate(() => {
      const focus = document.activeElement;
      return { text: focus?.textContent?.trim() ?? '', outline: focus ? getComputedStyle(focus).outlineStyle : 'none' };
    });
    assert.notEqual(at.outline, 'none', `no visible focus on ${at.text}`);
    if (ROOMS.includes(at.text)) reached.add(at.text);
  }
  assert.deepEqual([...reached].sort(), [...ROOMS].sort());
});
