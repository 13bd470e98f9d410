// The whole job in a real browser, as someone does it who has never used a command line.
import assert from 'node:assert/strict';
import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { browse, run, scratch, serve } from '../desk.mjs';

const LONG = 240_000;
let [home, server, browser, page, pictures] = [];

before(async () => {
  home = await scratch();
  const rendered = await run('render', join(home.folder, 'pictures'), '--count', '12', '--width', '640', '--height', '480', '--seed', '5');
  assert.equal(rendered.code, 0, rendered.err);
  const names = (await readdir(join(home.folder, 'pictures'))).filter((name) => /\.(png|jpg)$/.test(name)).sort();
  pictures = names.map((name) => join(home.folder, 'pictures', name));
  assert.equal(pictures.length, 12);
  server = await serve(home.folder);
  browser = await browse();
  page = await browser.context.newPage();
  page.setDefaultTimeout(20_000);
});

after(async () => {
  await browser?.close();
  server?.stop();
  await home?.remove();
});

const room = (name) => page.getByRole('navigation', { name: 'Rooms' }).getByRole('button', { name, exact: true }).click();
const said = (text) => page.getByText(text).first().waitFor();
const counts = async () => {
  const text = await page.locator('.say').innerText();
  return /(\d+) accepted, (\d+) suspect \(dashed\), (\d+) rejected/.exec(text)?.slice(1).map(Number);
};

test('a new object is begun', async () => {
  await page.goto(server.address);
  await page.getByRole('heading', { name: 'What did finishing leave on this stone?' }).waitFor();
  const form = page.locator('form', { has: page.getByRole('heading', { name: 'Begin an examination' }) });
  await form.getByLabel('New folder').fill(join(home.folder, 'walk'));
  await form.getByRole('button', { name: 'Begin' }).click();
  await page.getByLabel('Name, as you call it').fill('Bowl stand');
  await page.getByLabel('Place', { exact: true }).fill('store room');
  await page.getByLabel('New station').fill('front');
  await page.getByRole('button', { name: 'Add station' }).click();
  await page.getByRole('heading', { name: 'Bowl stand' }).waitFor();
});

test('twelve pictures are dropped on it', async () => {
  await room('Captures');
  await page.getByLabel('New instrument').fill('hand microscope');
  await page.getByRole('button', { name: 'Add instrument' }).click();
  await page.getByRole('region', { name: 'Add pictures' }).getByLabel('Taken at').selectOption({ label: 'front' });
  await page.getByRole('region', { name: 'Add pictures' }).getByLabel('With').selectOption({ label: 'hand microscope' });
  await page.getByLabel('Pictures to add').setInputFiles(pictures);
  await page.waitForFunction(() => document.querySelectorAll('article').length === 12);
  await page.getByRole('button', { name: 'Measure 12 pictures' }).waitFor();
});

test('the same picture is not added twice', async () => {
  await page.getByLabel('Pictures to add').setInputFiles(pictures.slice(0, 1));
  await said('it was not added twice');
  assert.equal(await page.locator('article').count(), 12);
});

test('the scale is set by two points', async () => {
  await page.locator('article .open').first().click();
  await page.locator('.openseadragon-canvas').waitFor();
  await page.getByRole('button', { name: 'Scale…' }).click();
  const box = await page.locator('.picture').boundingBox();
  await page.mouse.click(box.x + box.width * 0.35, box.y + box.height * 0.5);
  await page.waitForTimeout(400);
  await page.mouse.click(box.x + box.width * 0.6, box.y + box.height * 0.5);
  await page.getByText('Both points are set').waitFor();
  await page.getByLabel('Their distance, µm').fill('400');
  await page.getByRole('button', { name: 'Set the scale' }).click();
  await page.locator('.bar', { hasText: 'µm' }).waitFor();
});

test('the pictures are measured', async () => {
  await room('Captures');
  await page.getByRole('button', { name: 'Measure 12 pictures' }).click();
  await page.getByRole('button', { name: 'Nothing to measure' }).waitFor({ timeout: LONG });
}, { timeout: LONG });

test('three traces are rejected, one is drawn, and the drawing is undone', async () => {
  await page.locator('article .open').first().click();
  await page.locator('.openseadragon-canvas').waitFor();
  await page.getByLabel('Reading of').fill('First reader');
  await page.getByLabel('Reading of').press('Enter');
  await page.waitForFunction(() => /\d+ accepted/.test(document.querySelector('.say')?.textContent ?? ''));
  const [accepted, , rejected] = await counts();
  assert.ok(accepted >= 3, `${accepted} traces found`);
  await page.locator('.picture').click({ position: { x: 5, y: 5 } });
  for (let n = 1; n <= 3; n += 1) {
    await page.keyboard.press('n');
    await page.keyboard.press('r');
    await page.waitForFunction((want) => document.querySelector('.say')?.textContent?.includes(`${want} rejected`), rejected + n);
  }
  await page.keyboard.press('d');
  const box = await page.locator('.picture').boundingBox();
  await page.mouse.click(box.x + box.width * 0.4, box.y + box.height * 0.4);
  await page.waitForTimeout(400);
  await page.mouse.click(box.x + box.width * 0.6, box.y + box.height * 0.55);
  await page.getByRole('button', { name: 'Keep the trace' }).click();
  await page.waitForFunction(() => document.querySelector('[aria-pressed="true"]')?.textContent !== 'Draw d');
  const drawn = await counts();
  await page.getByRole('button', { name: 'Undo' }).click();
  await page.waitForFunction((want) => document.querySelector('.say')?.textContent?.startsWith(`${want} accepted`) ?? false, drawn[0] - 1);
});

test('a reload in the middle loses nothing, and two tabs agree', async () => {
  const before = await counts();
  await page.reload();
  await page.waitForFunction(() => /\d+ accepted/.test(document.querySelector('.say')?.textContent ?? ''));
  assert.deepEqual(await counts(), before);
  const second = await browser.context.newPage();
  await second.goto(server.origin);
  await second.getByRole('navigation', { name: 'Rooms' }).getByRole('button', { name: 'Object' }).click();
  await second.getByLabel('Name, as you call it').fill('Bowl stand, renamed');
  await second.getByLabel('Name, as you call it').press('Tab');
  await page.getByRole('heading', { name: 'Bowl stand, renamed' }).waitFor();
  await second.close();
});

test('a second person reads blind', async () => {
  await page.getByLabel('Reading of').fill('Second reader');
  await page.getByLabel('Reading of').press('Enter');
  await page.waitForFunction(() => /, 0 rejected/.test(document.querySelector('.say')?.textContent ?? ''));
});

test('lay, report and package follow', async () => {
  await room('Lay');
  await page.locator('figure img').first().waitFor({ timeout: LONG });
  await room('Report');
  await page.frameLocator('iframe').getByRole('heading').first().waitFor({ timeout: LONG });
  await page.getByRole('button', { name: 'Write the report' }).click();
  await said(/^Written: .*report\.pdf/);
  await page.getByRole('button', { name: 'Write the archive package' }).click();
  await said(/^Written: .*bagit\.txt/);
}, { timeout: LONG });

test('nothing left loopback and nothing went wrong on the page', () => {
  assert.deepEqual(browser.strayed, []);
  assert.deepEqual(browser.errors, []);
});
