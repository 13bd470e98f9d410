// Answers overtake each other on a busy machine; the page must end with what is there.
import assert from 'node:assert/strict';
import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { browse, run, scratch, serve } from '../desk.mjs';

const PICTURES = 6;
let [home, server, browser, page] = [];

before(async () => {
  home = await scratch();
  await run('begin', join(home.folder, 'order'), '--name', 'Order');
  const rendered = await run('render', join(home.folder, 'pictures'), '--count', String(PICTURES), '--width', '320', '--height', '240', '--seed', '9');
  assert.equal(rendered.code, 0, rendered.err);
  server = await serve(home.folder, '--examination', join(home.folder, 'order'));
  browser = await browse();
  page = await browser.context.newPage();
  page.setDefaultTimeout(20_000);
});

after(async () => {
  await browser?.close();
  server?.stop();
  await home?.remove();
});

test('an answer that comes late does not put the page back', async () => {
  await page.goto(server.address);
  await page.getByRole('navigation', { name: 'Rooms' }).getByRole('button', { name: 'Captures' }).click();
  // The first answer about the whole is held back until the last picture is in, and a while longer.
  let asked = 0;
  let release;
  const ended = new Promise((done) => (release = done));
  await page.route('**/api/desk', async (route) => {
    asked += 1;
    const first = asked === 1;
    const response = await route.fetch();
    if (first) await ended;
    await route.fulfill({ response });
  });
  const names = (await readdir(join(home.folder, 'pictures'))).filter((name) => name.endsWith('.png'));
  await page.getByLabel('Pictures to add').setInputFiles(names.map((name) => join(home.folder, 'pictures', name)));
  await page.waitForFunction((want) => document.querySelectorAll('article').length === want, PICTURES);
  assert.ok(asked > 0, 'no answer was held back: this test tests nothing');
  release();
  await page.waitForTimeout(500);
  assert.equal(await page.locator('article').count(), PICTURES);
});
