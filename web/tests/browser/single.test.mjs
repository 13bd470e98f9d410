// What holds for one picture alone, what came from somebody else, and pictures of two examinations in one run.
import assert from 'node:assert/strict';
import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { browse, run, scratch, serve } from '../desk.mjs';

let [home, server, browser, page, measured] = [];
const folder = (name) => join(home.folder, name);

before(async () => {
  home = await scratch();
  for (const [name, seed] of [['first', '3'], ['second', '4']]) {
    await run('begin', folder(name), '--name', `The ${name}`);
    const rendered = await run('render', folder(`${name}-pictures`), '--count', '1', '--width', '480', '--height', '360', '--seed', seed);
    assert.equal(rendered.code, 0, rendered.err);
    const added = await run('add', folder(name), folder(`${name}-pictures`), '--instrument', 'low position');
    assert.equal(added.code, 0, added.err);
  }
  await run('scale', folder('first'), '--um-per-px', '2.5', '--u', '0.01');
  const { out, code, err } = await run('measure', join(folder('first-pictures'), 'free-hand-3.png'), '--json');
  assert.equal(code, 0, err);
  measured = folder('without a scale.json');
  await writeFile(measured, out);
  server = await serve(home.folder, '--examination', folder('first'));
  browser = await browse();
  page = await browser.context.newPage();
  page.setDefaultTimeout(20_000);
  await page.goto(server.address);
});

after(async () => {
  await browser?.close();
  server?.stop();
  await home?.remove();
});

const room = (name) => page.getByRole('navigation', { name: 'Rooms' }).getByRole('button', { name, exact: true }).click();

test('a scale may hold for one picture alone, and be given up', async () => {
  await room('Captures');
  const card = page.getByRole('article');
  await card.getByText('2.500 ± 0.010 µm/px (typed)').waitFor();
  await card.getByText('Station, light, scale, kind').click();
  await card.getByText('Lens not calibrated.').waitFor();
  await card.getByRole('button', { name: 'Scale of this picture alone…' }).click();
  await card.getByRole('form', { name: /^Scale of/ }).getByRole('combobox').selectOption('typed');
  await card.getByLabel('µm per pixel', { exact: true }).fill('1.25');
  await card.getByLabel('± standard uncertainty, µm per pixel').fill('0.02');
  await card.getByRole('button', { name: 'Set', exact: true }).click();
  await card.getByText('1.250 ± 0.020 µm/px (typed)').waitFor();
  await card.getByRole('button', { name: 'Scale, lens and light as of low position again' }).click();
  await card.getByText('2.500 ± 0.010 µm/px (typed)').waitFor();
  assert.equal(await card.getByRole('button', { name: /as of low position again/ }).count(), 0);
});

test('an instrument keeps its kind, and what it is called', async () => {
  const instruments = page.getByRole('region', { name: 'Instruments' });
  await instruments.getByLabel('Kind').first().selectOption('camera');
  await instruments.getByLabel('Name and setting').fill('camera on a stand');
  await instruments.getByLabel('Name and setting').press('Tab');
  const listed = async () => JSON.parse((await run('instrument', folder('first'), '--json')).out).items[0].name;
  for (let n = 0; n < 50 && (await listed()) !== 'camera on a stand'; n += 1) await page.waitForTimeout(100);
  assert.equal(await listed(), 'camera on a stand');
  assert.equal(await instruments.getByLabel('Kind').first().inputValue(), 'camera');
});

test('measurements of somebody else are weighed apart, or refused in words', async () => {
  await room('Weighing');
  const others = page.getByRole('region', { name: 'Measurements of somebody else' });
  const wrong = folder('letter.json');
  await writeFile(wrong, 'Dear reader');
  await others.getByLabel('Measurements to weigh').setInputFiles(wrong);
  await page.getByRole('alert').getByText(/letter\.json is not/).waitFor();
  assert.match(browser.errors.pop(), /400.*\/api\/weighing\/file/);
  await page.getByRole('button', { name: 'Dismiss' }).click();
  await others.getByLabel('Measurements to weigh').setInputFiles(measured);
  // Without a scale nothing can be weighed; the words say so, and the examination's own weighing stays as it was.
  const jobs = page.getByRole('region', { name: 'Work in progress' });
  await jobs.getByText('Weighing without a scale.json').waitFor();
  await jobs.getByText(/scale/i).nth(1).waitFor();
  await page.getByRole('heading', { name: 'Not weighed yet' }).waitFor();
});

test('another examination shows its own pictures, not those kept of the one before', async () => {
  await room('Captures');
  const picture = () => page.getByRole('article').getByRole('img').getAttribute('src');
  const first = await picture();
  await page.getByRole('button', { name: 'Close examination' }).click();
  const open = page.locator('form', { has: page.getByRole('heading', { name: 'Open one' }) });
  await open.getByLabel('Its folder').fill(folder('second'));
  await open.getByRole('button', { name: 'Open', exact: true }).click();
  await page.getByRole('heading', { name: 'The second' }).waitFor();
  await room('Captures');
  const second = await picture();
  assert.notEqual(first, second, 'an address that a browser keeps names one picture and no other');
  const status = await page.evaluate(async (address) => (await fetch(address, { cache: 'reload' })).status, first);
  assert.equal(status, 404, 'the picture of a closed examination is not given out');
  assert.match(browser.errors.pop(), /404/);
  assert.deepEqual([browser.errors, browser.strayed], [[], []]);
});
