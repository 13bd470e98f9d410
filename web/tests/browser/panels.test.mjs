// Reference panels and the blind test, which must say on screen what they say on the command line.
import assert from 'node:assert/strict';
import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { browse, run, scratch, serve } from '../desk.mjs';

let [home, server, browser, page, measured] = [];

before(async () => {
  home = await scratch();
  await run('begin', join(home.folder, 'object'), '--name', 'Object');
  const rendered = await run('render', join(home.folder, 'pictures'), '--count', '1', '--width', '800', '--height', '600', '--seed', '3', '--finish', 'guided-rub');
  assert.equal(rendered.code, 0, rendered.err);
  const { out, code, err } = await run('measure', join(home.folder, 'pictures', 'guided-rub-3.png'), '--um-per-px', '2.5', '--light-azimuth', '35', '--json');
  assert.equal(code, 0, err);
  measured = join(home.folder, 'panel 1, “left” 🪨.json');
  await writeFile(measured, out);
  server = await serve(home.folder, '--examination', join(home.folder, 'object'));
  browser = await browse();
  page = await browser.context.newPage();
  page.setDefaultTimeout(20_000);
  await page.goto(server.address);
  await page.getByRole('navigation', { name: 'Rooms' }).getByRole('button', { name: 'Weighing' }).click();
});

after(async () => {
  await browser?.close();
  server?.stop();
  await home?.remove();
});

const panels = () => page.getByRole('region', { name: 'Reference panels' });

test('the caution stands where someone is told to make a panel', async () => {
  await panels().getByText(/dust of quartz-bearing stone harms the lungs/).waitFor();
});

test('a panel is added from measurements, and what is none is refused in words', async () => {
  await panels().getByLabel('It was finished by').selectOption('guided-rub');
  await panels().getByLabel('Measurements of a panel').setInputFiles(measured);
  await panels().getByRole('list', { name: 'Panels of this examination' }).getByText('panel 1, “left” 🪨.json', { exact: true }).first().waitFor();
  await panels().getByText('Three panels or more, of two finishes or more').waitFor();
  const wrong = join(home.folder, 'not one.json');
  await writeFile(wrong, '{"schema":"other/1"}');
  await panels().getByLabel('Measurements of a panel').setInputFiles(wrong);
  await page.getByText(/not one\.json has the form "other\/1"/).waitFor();
  assert.match(browser.errors.pop(), /400.*\/api\/panels/);
  await panels().getByLabel('Folder of its examination').fill(join(home.folder, 'object'));
  await panels().getByRole('button', { name: 'Add the folder' }).click();
  await page.getByText(/no measured captures|cannot be weighed|no capture/i).first().waitFor();
  assert.match(browser.errors.pop(), /400.*\/api\/panels/);
});

test('a weighing may let the panels update the models', async () => {
  const select = page.getByLabel('Reference panels (1)');
  assert.deepEqual(await select.locator('option').allInnerTexts(), ['are left out', 'update the models of their finishes', 'take the place of those models']);
});

test('a blind test is sealed as the command line seals it', async () => {
  const answers = join(home.folder, 'answers.csv');
  await writeFile(answers, 'p1, guided-rub\np2, free-hand\n');
  const { out } = await run('panel', 'seal', answers, '--salt', 'a long sentence');
  await panels().getByText('Blind test').click();
  await panels().getByLabel('Answers, one a line').fill('p1, guided-rub\np2, free hand');
  await panels().getByLabel('Secret text').fill('a long sentence');
  await panels().getByRole('button', { name: 'Seal the answers' }).click();
  const seal = await panels().locator('code').innerText();
  assert.equal(seal, out.trim());
  const weighing = { schema: 'rubstone.weigh/1', reach: [], cannot_tell_apart: [], none_fits: { p: 0.5, because: '' }, finishes: [], sensitivity: [], seed: 1, simulations: 1 };
  const pairs = [{ a: 'guided-rub', b: 'free-hand', log10_lr: 1.5, low: 1.1, high: 1.9 }];
  const file = join(home.folder, 'p1.json');
  await writeFile(file, JSON.stringify({ ...weighing, pairs }));
  await panels().getByLabel('Weighings of the panels').setInputFiles(file);
  await panels().getByLabel('The seal that was published').fill(seal);
  await panels().getByRole('button', { name: 'Score it' }).click();
  const score = await panels().getByRole('list', { name: 'Score' }).innerText();
  assert.match(score, /the seal holds/);
  assert.match(score, /1 comparisons: 1 ratios of ten or more for the truth, 0 against it, 0 silent/);
  await panels().getByLabel('Secret text').fill('another sentence');
  await panels().getByRole('button', { name: 'Score it' }).click();
  await panels().getByText(/the answers are NOT those that were sealed/).waitFor();
});

test('a panel is taken out', async () => {
  await panels().getByRole('button', { name: /Take out panel 1/ }).click();
  await panels().getByText('No panels yet').waitFor();
  assert.deepEqual(browser.errors, []);
});
