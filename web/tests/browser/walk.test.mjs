// The whole job in a real browser, as someone does it who has never used a command line.
import assert from 'node:assert/strict';
import { readdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { browse, run, scratch, serve } from '../desk.mjs';

const LONG = 240_000;
let [home, server, browser, page, pictures, face] = [];

before(async () => {
  home = await scratch();
  const rendered = await run('render', join(home.folder, 'pictures'), '--count', '12', '--width', '640', '--height', '480', '--seed', '5');
  assert.equal(rendered.code, 0, rendered.err);
  const names = (await readdir(join(home.folder, 'pictures'))).filter((name) => /\.(png|jpg)$/.test(name)).sort();
  pictures = names.map((name) => join(home.folder, 'pictures', name));
  assert.equal(pictures.length, 12);
  face = join(home.folder, 'face.txt');
  const row = (y) => Array.from({ length: 60 }, (_, x) => ((x * 7 + y * 3) % 11) / 10).join(' ');
  await writeFile(face, Array.from({ length: 60 }, (_, y) => row(y)).join('\n'));
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
const said = (text, timeout = 20_000) => page.getByText(text).first().waitFor({ timeout });
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

test('the finishes are weighed in the background, and a cancelled weighing keeps nothing', async () => {
  await room('Weighing');
  await page.getByRole('checkbox', { name: 'rotating pad' }).waitFor();
  const weigh = page.getByRole('button', { name: 'Weigh', exact: true });
  await weigh.click();
  await page.getByRole('region', { name: 'Work in progress' }).getByRole('button', { name: 'Cancel' }).click();
  await said('Cancelled. What was done is kept.');
  await page.getByRole('heading', { name: 'Not weighed yet' }).waitFor();
  await weigh.click();
  // Whoever leaves the page finds the answer when they come back.
  await room('Object');
  await said(/^Weighed; /, 2 * LONG);
  await room('Weighing');
  await page.getByRole('heading', { name: 'What cannot be told apart with these pictures' }).waitFor();
  await page.getByRole('heading', { name: 'Does any of them fit?' }).waitFor();
  await page.getByRole('heading', { name: 'What each finish would have looked like here' }).waitFor({ timeout: LONG });
  await page.getByAltText(/^Simulated: .* Simulated picture, not a photograph/).first().waitFor();
}, { timeout: 4 * LONG });

test('the next visit is planned, with a field sheet', async () => {
  await room('Next visit');
  for (const finish of ['rotating pad', 'guided rub']) await page.getByRole('checkbox', { name: finish }).check();
  for (const finish of ['orbital pad', 'oscillating pad', 'free hand', 'turning', 'loose abrasive']) await page.getByRole('checkbox', { name: finish }).uncheck();
  await page.getByLabel('Before the object, in all').fill('20');
  await page.getByText('Simulations', { exact: true }).click();
  await page.getByLabel('Objects of each finish').fill('100');
  await page.getByRole('button', { name: 'Plan the visit' }).click();
  await page.getByRole('heading', { name: 'Plan of the next visit' }).waitFor({ timeout: LONG });
  const sheet = await page.request.get(`${server.origin}${await page.getByRole('link', { name: 'Save it' }).getAttribute('href')}`);
  assert.equal((await sheet.body()).subarray(0, 5).toString(), '%PDF-');
}, { timeout: LONG });

test('the form of a face is measured once its unit is given', async () => {
  await room('Form');
  await page.getByLabel('Height map or mesh').setInputFiles(face);
  await said('Say the unit');
  await page.getByLabel('Its heights are in').selectOption({ label: 'micrometres' });
  await page.getByLabel('Step between heights, µm').fill('2');
  await page.getByRole('button', { name: 'Measure', exact: true }).click();
  await page.getByRole('heading', { name: 'Form of face.txt' }).waitFor({ timeout: LONG });
  await page.getByRole('rowheader', { name: /Flatness FLTt, minimum zone/ }).waitFor();
  await page.getByAltText(/^Heights above the least-squares plane/).waitFor();
}, { timeout: LONG });

test('symmetry is measured on a photograph, by clicks and by typing', async () => {
  const landmarks = page.getByRole('region', { name: 'Symmetry on a photograph' });
  await landmarks.locator('.openseadragon-canvas').waitFor();
  const box = await landmarks.locator('.picture').boundingBox();
  for (const share of [0.4, 0.6]) {
    await page.mouse.click(box.x + box.width * share, box.y + box.height * 0.4);
    await page.waitForTimeout(400);
  }
  await landmarks.getByRole('button', { name: 'Take out pair 1' }).waitFor();
  await landmarks.getByText('Two pairs are needed at least').waitFor();
  await landmarks.getByRole('button', { name: 'Type a pair' }).click();
  const second = landmarks.getByRole('group', { name: 'Pair 2' });
  const first = landmarks.getByRole('group', { name: 'Pair 1' });
  for (const [label, add] of [['Left x, px', 10], ['Right x, px', -10]]) {
    await second.getByLabel(label).fill(String(Number(await first.getByLabel(label).inputValue()) + add));
  }
  for (const nth of [0, 1]) await second.getByLabel('y', { exact: true }).nth(nth).fill('300');
  await landmarks.getByRole('button', { name: 'Measure the symmetry' }).click();
  await page.getByRole('rowheader', { name: /Direction of the symmetry axis/ }).waitFor();
  await said(/Perspective is not corrected/);
});

test('the stone answers what could scratch it', async () => {
  await room('Stone');
  await page.getByRole('combobox', { name: 'Rock' }).selectOption('diorite');
  await page.getByRole('combobox', { name: 'Tool' }).selectOption('annealed copper');
  await page.getByLabel('Grit, with its scale').fill('400');
  await page.getByRole('button', { name: 'Answer and keep' }).click();
  await said('names no scale');
  // The browser notes the refusal itself; it was asked for.
  assert.match(browser.errors.pop(), /400.*\/api\/stone/);
  await page.getByLabel('Grit, with its scale').fill('P400');
  await page.getByRole('button', { name: 'Answer and keep' }).click();
  await page.getByRole('heading', { name: 'Answer' }).waitFor();
  await said(/P400 has grains of/);
  await page.reload();
  await said(/P400 has grains of/);
});

test('lay, report and package follow', async () => {
  await room('Lay');
  await page.locator('figure img').first().waitFor({ timeout: LONG });
  await room('Report');
  await page.frameLocator('iframe').getByRole('heading').first().waitFor({ timeout: LONG });
  await page.getByRole('button', { name: 'Write the report' }).click();
  await said(/^Written: .*report\.pdf/, LONG);
  await page.getByRole('button', { name: 'Write the archive package' }).click();
  await said(/^Written: .*bagit\.txt/, LONG);
}, { timeout: 4 * LONG });

test('nothing left loopback and nothing went wrong on the page', () => {
  assert.deepEqual(browser.strayed, []);
  assert.deepEqual(browser.errors, []);
});
