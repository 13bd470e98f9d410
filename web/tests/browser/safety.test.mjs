// The server refuses what it should: each test is the attack itself.
import assert from 'node:assert/strict';
import { writeFile } from 'node:fs/promises';
import http from 'node:http';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { run, scratch, serve } from '../desk.mjs';

let [home, server, cookie, port] = [];

/** One request, exactly as given: no client library cleans the path or the headers. */
function ask(path, { method = 'GET', headers = {}, body } = {}) {
  return new Promise((done, failed) => {
    // A connection of its own: one that the server has cut off must not be used again.
    const options = { agent: false, host: '127.0.0.1', port, path, method, headers: { host: `127.0.0.1:${port}`, cookie, ...headers } };
    const request = http.request(options, (response) => {
      let text = '';
      response.on('data', (part) => (text += part));
      response.on('end', () => done({ status: response.statusCode, headers: response.headers, text }));
    });
    request.on('error', failed);
    request.end(body);
  });
}

before(async () => {
  home = await scratch();
  const folder = join(home.folder, 'exam');
  assert.equal((await run('begin', folder)).code, 0);
  await writeFile(join(home.folder, 'secret.txt'), 'a secret');
  server = await serve(home.folder, '--examination', folder);
  port = new URL(server.address).port;
  const entered = await ask(new URL(server.address).pathname, { headers: { cookie: '' } });
  assert.equal(entered.status, 303);
  cookie = entered.headers['set-cookie'][0].split(';')[0];
});

after(async () => {
  server?.stop();
  await home?.remove();
});

test('the page is served to the browser that was let in', async () => {
  const page = await ask('/');
  assert.equal(page.status, 200);
  assert.match(page.headers['content-security-policy'], /default-src 'none'/);
  assert.equal(page.headers['x-content-type-options'], 'nosniff');
  assert.equal((await ask('/api/desk')).status, 200);
});

test('the address lets in once', async () => {
  assert.equal((await ask(new URL(server.address).pathname, { headers: { cookie: '' } })).status, 403);
});

test('without the cookie, or with another, nothing is told', async () => {
  for (const wrong of ['', 'rubstone=x', `${cookie}0`, cookie.replace(/.$/, (last) => (last === '0' ? '1' : '0'))]) {
    for (const path of ['/', '/api/desk', '/iiif/1/info.json', '/api/events']) {
      const answer = await ask(path, { headers: { cookie: wrong } });
      assert.equal(answer.status, 403, `${path} with '${wrong}'`);
      assert.doesNotMatch(answer.text, /exam/);
    }
  }
});

test('a name of another site that resolves to this machine is refused', async () => {
  for (const host of ['attacker.example', `attacker.example:${port}`, '127.0.0.1', `127.0.0.1.attacker.example:${port}`, `0.0.0.0:${port}`]) {
    assert.equal((await ask('/api/desk', { headers: { host } })).status, 421, host);
  }
});

test('a page of another site cannot post, read or open', async () => {
  const json = { 'content-type': 'application/json' };
  for (const headers of [{ origin: 'http://attacker.example' }, { origin: 'null' }, { origin: `http://127.0.0.1:${Number(port) + 1}` }, { 'sec-fetch-site': 'cross-site' }, { 'sec-fetch-site': 'same-site' }]) {
    const posted = await ask('/api/stations', { method: 'POST', headers: { ...json, ...headers }, body: '{"name":"x","note":""}' });
    assert.equal(posted.status, 403, JSON.stringify(headers));
  }
  const stations = JSON.parse((await ask('/api/desk')).text).examination.stations;
  assert.deepEqual(stations, []);
  // A plain form cannot say application/json, and nothing else is understood.
  const form = await ask('/api/stations', { method: 'POST', headers: { 'content-type': 'text/plain' }, body: '{"name":"x","note":""}' });
  assert.equal(form.status, 400);
});

test('no path leads out of the examination', async () => {
  const paths = [
    '/../secret.txt', '/assets/../../secret.txt', '/assets/..%2f..%2fsecret.txt', '/assets/%2e%2e/%2e%2e/secret.txt', '/assets/..%5c..%5csecret.txt',
    `/assets/${encodeURIComponent(join(home.folder, 'secret.txt'))}`, '/assets//etc/passwd', '/assets/%00', '/assets/..%252f..%252fsecret.txt',
    '/iiif/..%2f..%2fsecret.txt/full/max/0/default.jpg', '/iiif/%5c%5chost%5cshare/info.json', '/api/report/..%2f..%2fsecret.txt', '/api/report/%2fetc%2fpasswd',
    '/api/report/report.html%00', '/api/report/....//secret.txt', '/api/report/examination.sqlite', '/api/report/..%2fexamination.sqlite',
  ];
  for (const path of paths) {
    const answer = await ask(path);
    assert.ok(answer.status >= 400 && answer.status < 500, `${path}: ${answer.status}`);
    assert.doesNotMatch(answer.text, /a secret|root:|SQLite/, path);
  }
});

test('an upload keeps its name inside its folder', async () => {
  const line = '--x\r\ncontent-disposition: form-data; name="file"; filename="../../../secret.txt"\r\n\r\nnot a picture\r\n--x--\r\n';
  const answer = await ask('/api/captures?kind=micrograph', { method: 'POST', headers: { 'content-type': 'multipart/form-data; boundary=x' }, body: line });
  const { files } = JSON.parse(answer.text);
  assert.equal(files[0].outcome, 'failed');
  assert.equal(files[0].file_name, 'secret.txt');
});

test('large requests are cut off', async () => {
  const body = JSON.stringify({ name: 'x'.repeat(3 << 20), note: '' });
  const answer = await ask('/api/stations', { method: 'POST', headers: { 'content-type': 'application/json' }, body }).catch(() => ({ status: 413 }));
  assert.ok(answer.status === 413 || answer.status === 400, String(answer.status));
});

test('other methods and other addresses get words', async () => {
  assert.equal((await ask('/api/nothing')).status, 404);
  assert.equal((await ask('/api/desk', { method: 'DELETE' })).status, 405);
});
