import createClient from 'openapi-fetch';
import type { components, paths } from './schema';

export type Forms = components['schemas'];

const client = createClient<paths>({ baseUrl: window.location.origin });

/** What went wrong, in the server's words: they say what to do. */
export class Refusal extends Error {}

interface Answer<T> {
  data?: T;
  error?: unknown;
  response: Response;
}

async function taken<T>(answer: Promise<Answer<T>>): Promise<T> {
  const { data, error, response } = await answer.catch(() => {
    throw new Refusal('The program behind this page does not answer. Start rubstone again and reload.');
  });
  if (data !== undefined) return data;
  throw new Refusal(messageOf(error) ?? `The request was refused (${response.status}). Reload the page.`);
}

function messageOf(error: unknown): string | undefined {
  if (typeof error === 'object' && error !== null && 'message' in error && typeof error.message === 'string') return error.message;
  return undefined;
}

const path = <T extends object>(values: T) => ({ params: { path: values } });

const UNCHANGED: Forms['CaptureChange'] = { kind: null, station: null, instrument: null, light: null, as_instrument: false, set_aside: null, note: null };

/** The whole of what the page may ask of the server. */
export const api = {
  desk: () => taken(client.GET('/api/desk')),
  open: (body: Forms['OpenRequest']) => taken(client.POST('/api/open', { body })),
  close: () => taken(client.POST('/api/close')),
  setObject: (body: Forms['ObjectForm']) => taken(client.PUT('/api/object', { body })),
  addStation: (body: Forms['StationText']) => taken(client.POST('/api/stations', { body })),
  changeStation: (id: number, body: Forms['StationText']) => taken(client.PUT('/api/stations/{id}', { ...path({ id }), body })),
  removeStation: (id: number) => taken(client.DELETE('/api/stations/{id}', path({ id }))),
  pin: (id: number, body: Forms['PinForm']) => taken(client.PUT('/api/stations/{id}/pin', { ...path({ id }), body })),
  unpin: (id: number) => taken(client.DELETE('/api/stations/{id}/pin', path({ id }))),
  addInstrument: (body: Forms['InstrumentText']) => taken(client.POST('/api/instruments', { body })),
  changeInstrument: (id: number, body: Forms['InstrumentText']) =>
    taken(client.PUT('/api/instruments/{id}', { ...path({ id }), body })),
  changeCapture: (id: number, change: Partial<Forms['CaptureChange']>) =>
    taken(client.PATCH('/api/captures/{id}', { ...path({ id }), body: { ...UNCHANGED, ...change } })),
  setScale: (body: Forms['SetScale']) => taken(client.POST('/api/scale', { body })),
  reading: (id: number, person: string) =>
    taken(client.GET('/api/captures/{id}/reading', { params: { path: { id }, query: { person } } })),
  step: (id: number, person: string, body: Forms['ReadingRequest']) =>
    taken(client.POST('/api/captures/{id}/reading', { params: { path: { id }, query: { person } }, body })),
  agreement: (id: number) => taken(client.GET('/api/captures/{id}/agreement', path({ id }))),
  lay: (scope: string) => taken(client.GET('/api/lay/{scope}', path({ scope }))),
  comparison: () => taken(client.GET('/api/comparison')),
  weighing: () => taken(client.GET('/api/weighing')),
  weighedFile: () => taken(client.GET('/api/weighing/file')),
  weighFile,
  panels: () => taken(client.GET('/api/panels')),
  addPanelFolder: (body: Forms['PanelAt']) => taken(client.POST('/api/panels/folder', { body })),
  addPanelFile,
  removePanel: (id: number) => taken(client.DELETE('/api/panels/{id}', path({ id }))),
  seal: (body: Forms['SealRequest']) => taken(client.POST('/api/blind/seal', { body })),
  score: (body: Forms['ScoreRequest']) => taken(client.POST('/api/blind/score', { body })),
  simulated: () => taken(client.GET('/api/weighing/pictures')),
  forms: () => taken(client.GET('/api/form')),
  forgetForm: (sha256: string) => taken(client.DELETE('/api/form/{sha256}', path({ sha256 }))),
  measureForm,
  measureLandmarks: (id: number, body: Forms['LandmarksAsked']) => taken(client.PUT('/api/captures/{id}/landmarks', { ...path({ id }), body })),
  stone: () => taken(client.GET('/api/stone')),
  askStone: (body: Forms['StoneQuestionForm']) => taken(client.PUT('/api/stone', { body })),
  visit: () => taken(client.GET('/api/visit')),
  start: (body: Forms['JobRequest']) => taken(client.POST('/api/jobs', { body })),
  cancel: (id: number) => taken(client.DELETE('/api/jobs/{id}', path({ id }))),
  addFiles,
};

/** What added pictures are. */
export interface AddedAs {
  readonly kind: string;
  readonly station: number | null;
  readonly instrument: number | null;
}

/** Uploads files one request each, so that one bad file stops no other; `at` hears how many are done. */
async function addFiles(files: readonly File[], as: AddedAs, at: (done: number) => void): Promise<Forms['AddedForm']> {
  const results: Forms['AddedFile'][] = [];
  let examination: Forms['ExaminationForm'] | undefined;
  for (const [index, file] of files.entries()) {
    at(index);
    const body = new FormData();
    body.append('file', file, file.name);
    const query = new URLSearchParams({ kind: as.kind });
    if (as.station !== null) query.set('station', String(as.station));
    if (as.instrument !== null) query.set('instrument', String(as.instrument));
    const response = await fetch(`/api/captures?${query}`, { method: 'POST', body });
    const answer: unknown = await response.json().catch(() => undefined);
    if (response.ok) {
      const added = answer as Forms['AddedForm'];
      results.push(...added.files);
      examination = added.examination;
    } else {
      const message = messageOf(answer) ?? `The upload was refused (${response.status}). Add it once more.`;
      results.push({ file_name: file.name, outcome: 'failed', message, capture: null });
    }
  }
  examination ??= (await api.desk()).examination ?? undefined;
  if (!examination) throw new Refusal('No examination is open. Open one first.');
  return { files: results, examination };
}

/** Sends a file with what is asked about it. */
async function sent(to: string, file: File, asked: string): Promise<unknown> {
  const body = new FormData();
  // The server reads the file as it comes and must know what is asked before.
  body.append('asked', asked);
  body.append('file', file, file.name);
  const response = await fetch(to, { method: 'POST', body }).catch(() => {
    throw new Refusal('The file could not be sent. Start rubstone again if it has ended, and send the file once more.');
  });
  const answer: unknown = await response.json().catch(() => undefined);
  if (!response.ok) throw new Refusal(messageOf(answer) ?? `The file was refused (${response.status}). Reload the page and send it once more.`);
  return answer;
}

/** Sends a height map or a mesh to be measured; the work goes on in the background. */
async function measureForm(file: File, asked: Forms['FormAsked']): Promise<void> {
  await sent('/api/form', file, JSON.stringify(asked));
}

/** Sends somebody's measurements to be weighed; the work goes on in the background. */
async function weighFile(file: File, asked: Forms['WeighAsked']): Promise<void> {
  await sent('/api/weighing/file', file, JSON.stringify(asked));
}

/** Sends the measurements of a panel. */
async function addPanelFile(file: File, asked: Forms['PanelAsked']): Promise<Forms['PanelsForm']> {
  return (await sent('/api/panels', file, JSON.stringify(asked))) as Forms['PanelsForm'];
}

/** Address of the field sheet of the plan kept (PDF). */
export const FIELD_SHEET = '/api/visit/field-sheet.pdf';

type Original = Pick<Forms['CaptureForm'], 'sha256'>;

/** Address of a capture's tiles (IIIF Image API 3.0). */
export const tilesOf = ({ sha256 }: Original): string => `/iiif/${sha256}/info.json`;

/** Address of a capture, shrunk to fit a square. */
export const thumbnailOf = ({ sha256 }: Original, side: number): string => `/iiif/${sha256}/full/!${side},${side}/0/default.jpg`;
