// Starts the workbench and a browser on it, for tests and benchmarks.
import { spawn } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';

const root = fileURLToPath(new URL('../../', import.meta.url));
export const BINARY = process.env.RUBSTONE ?? join(process.env.CARGO_TARGET_DIR ?? join(root, 'target'), 'release', 'rubstone');
const CHROMIUM = process.env.CHROMIUM ?? '/usr/bin/chromium';
// Without these, the browser looks for its makers' servers at every start.
const QUIET = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'];

/** A folder that is gone after the test. */
export async function scratch() {
  const folder = await mkdtemp(join(tmpdir(), 'rubstone-test-'));
  return { folder, remove: () => rm(folder, { recursive: true, force: true }) };
}

/** Runs the program to its end; resolves with what it printed. */
export function run(...args) {
  return new Promise((done, failed) => {
    const child = spawn(BINARY, args, { stdio: ['ignore', 'pipe', 'pipe'] });
    let [out, err] = ['', ''];
    child.stdout.on('data', (text) => (out += text));
    child.stderr.on('data', (text) => (err += text));
    child.on('error', failed);
    child.on('close', (code) => done({ code, out, err }));
  });
}

/** Starts the server; resolves with the address that lets one browser in. */
export function serve(home, ...args) {
  return new Promise((done, failed) => {
    const env = { ...process.env, HOME: home, XDG_STATE_HOME: join(home, '.state') };
    const child = spawn(BINARY, ['--no-browser', ...args], { stdio: ['ignore', 'pipe', 'pipe'], env });
    let out = '';
    let err = '';
    child.stderr.on('data', (text) => (err += text));
    child.stdout.on('data', (text) => {
      out += text;
      const address = /http:\/\/\S+/.exec(out)?.[0];
      if (address) done({ address, origin: new URL(address).origin, stop: () => child.kill('SIGINT') });
    });
    child.on('error', failed);
    child.on('exit', (code) => failed(new Error(`the server ended with ${code}: ${err}`)));
  });
}

/** A browser whose pages record every request that leaves loopback and every error they meet. */
export async function browse(options = {}) {
  const browser = await chromium.launch({ executablePath: CHROMIUM, args: QUIET });
  const context = await browser.newContext({ viewport: { width: 1280, height: 720 }, ...options });
  const strayed = [];
  const errors = [];
  context.on('request', (request) => {
    const { protocol, hostname } = new URL(request.url());
    if (protocol.startsWith('http') && hostname !== '127.0.0.1') strayed.push(request.url());
  });
  context.on('console', (message) => message.type() === 'error' && errors.push(`${message.text()} (${message.location().url}:${message.location().lineNumber})`));
  context.on('weberror', (error) => errors.push(String(error.error())));
  return { context, strayed, errors, close: () => browser.close() };
}

/** A reading of `n` traces as the server would send it, for pages that must bear thousands. */
export function reading(n) {
  // A fixed generator, so that every run draws the same.
  let state = 12345;
  const random = () => (state = (state * 1103515245 + 12345) % 2147483648) / 2147483648;
  const traces = Array.from({ length: n }, (_, index) => {
    const [x, y, length, turn] = [random() * 1600, random() * 1200, 20 + 200 * random() ** 2, random() * Math.PI];
    const points = [0, 0.5, 1].map((t) => [x + length * t * Math.cos(turn), y + length * t * Math.sin(turn) + 4 * t * (1 - t)]);
    return {
      id: index + 1, points, state: 'accepted', by_hand: false, suspect: null, length: `${length.toFixed(0)} px`, width: '3.0 ± 0.5 px',
      direction: '0 ± 1°', bow: '0 ± 1 /mm', length_px: length, direction_deg: 0, contrast: 2, ends_inside: 2,
    };
  });
  return { capture: 1, person: '', people: [], undo: 0, redo: 0, refused: null, hidden: null, traces };
}
