import { api, Refusal, type Forms } from '../api';
import { workbench } from '../state.svelte';

/** What adding pictures is at, for the captures room. */
export const adding = $state<{ total: number; done: number; results: Forms['AddedFile'][]; kind: string; station: number | null; instrument: number | null }>({
  total: 0,
  done: 0,
  results: [],
  kind: 'micrograph',
  station: null,
  instrument: null,
});

/** Adds pictures with the kind and station chosen in the captures room; what became of each is listed there. */
export async function addPictures(files: readonly File[]): Promise<void> {
  if (files.length === 0) {
    workbench.fail(new Refusal('Nothing was dropped that this browser shows as a file. Drop the files themselves, or use "Add pictures".'));
    return;
  }
  adding.total = files.length;
  adding.done = 0;
  adding.results = [];
  workbench.go('captures');
  try {
    const added = await api.addFiles(files, adding, (done) => (adding.done = done));
    adding.results = added.files;
    workbench.take(added.examination);
    workbench.news = `${added.files.filter((file) => file.outcome === 'added').length} pictures added`;
  } catch (error) {
    workbench.fail(error);
  } finally {
    adding.total = 0;
  }
}

/** All files of a drop, those inside dropped folders too. */
export async function filesOf(transfer: DataTransfer): Promise<File[]> {
  // Entries must be taken before the first await: the list is emptied after the event.
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry()).filter((entry) => entry !== null);
  if (entries.length === 0) return [...transfer.files];
  const found = await Promise.all(entries.map(walk));
  return found.flat().sort((a, b) => a.name.localeCompare(b.name));
}

async function walk(entry: FileSystemEntry): Promise<File[]> {
  if (entry instanceof FileSystemFileEntry) return [await new Promise<File>((yes, no) => entry.file(yes, no))];
  if (!(entry instanceof FileSystemDirectoryEntry)) return [];
  const reader = entry.createReader();
  const inside: FileSystemEntry[] = [];
  // A reader hands out at most a hundred entries at a time and ends with none.
  for (;;) {
    const some = await new Promise<FileSystemEntry[]>((yes, no) => reader.readEntries(yes, no));
    if (some.length === 0) break;
    inside.push(...some);
  }
  return (await Promise.all(inside.map(walk))).flat();
}
