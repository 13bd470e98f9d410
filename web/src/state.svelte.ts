import { api, Refusal, type Forms } from './api';
import { mayReplace } from './newest';

export const ROOMS = [
  ['object', 'Object'],
  ['captures', 'Captures'],
  ['tracing', 'Tracing'],
  ['lay', 'Lay'],
  ['weighing', 'Weighing'],
  ['visit', 'Next visit'],
  ['form', 'Form'],
  ['stone', 'Stone'],
  ['report', 'Report'],
] as const;
export type Room = (typeof ROOMS)[number][0];

const PERSON_KEY = 'rubstone-person';
const THEME_KEY = 'rubstone-theme';

/** All that the page knows. Changes only here; rooms draw it. */
class Workbench {
  /** What the server last said; undefined until it first answers. */
  desk = $state<Forms['DeskForm']>();
  /** Room on screen. */
  room = $state<Room>('object');
  /** Capture on screen in the tracing room. */
  capture = $state<number>();
  /** Whose reading is shown and changed. */
  person = $state(localStorage.getItem(PERSON_KEY) ?? '');
  /** A file dropped on the form room, until it takes it. */
  offered = $state.raw<File>();
  /** Work in progress and ended, oldest first. Only the events change it: they come in order, answers do not. */
  jobs = $state<Forms['JobForm'][]>([]);
  /** What last went wrong, in words; empty if nothing. */
  problem = $state('');
  /** What was last done, in words, for the status line. */
  news = $state('');
  /** 'light' or 'dark'. */
  theme = $state(localStorage.getItem(THEME_KEY) ?? (matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light'));

  /** Answers to questions asked before this page opened or closed an examination are about another one. */
  private opened = 0;
  private refreshing: Promise<void> | undefined;
  private again = false;
  /** The change asked for last. */
  private turn: Promise<unknown> = Promise.resolve();

  get examination(): Forms['ExaminationForm'] | undefined {
    return this.desk?.examination ?? undefined;
  }

  /**
   * Runs a change when those asked for before it are done, and shows what came of it. A change that sends more than was edited
   * reads the rest when it is run, so that it takes nothing back that was edited just before.
   */
  act(change: () => Promise<Forms['ExaminationForm']>, news = ''): Promise<boolean> {
    const done = this.turn.then(() => this.attempt(change, news));
    this.turn = done;
    return done;
  }

  /** A refusal is shown, never thrown further. */
  private async attempt(change: () => Promise<Forms['ExaminationForm']>, news: string): Promise<boolean> {
    try {
      this.take(await change());
      this.problem = '';
      this.news = news;
      return true;
    } catch (error) {
      this.fail(error);
      return false;
    }
  }

  take(examination: Forms['ExaminationForm']): void {
    if (!this.desk || !mayReplace(this.examination, examination)) return;
    if (examination.folder !== this.examination?.folder) this.opened += 1;
    this.desk = { ...this.desk, examination };
  }

  /** Closes the examination; its folder stays as it is. */
  async close(): Promise<void> {
    try {
      const desk = await api.close();
      this.opened += 1;
      this.desk = desk;
      this.go('object');
    } catch (error) {
      this.fail(error);
    }
  }

  fail(error: unknown): void {
    this.problem = error instanceof Refusal ? error.message : `Something went wrong on this page: ${String(error)}`;
  }

  /** Asks for everything anew. Asked while an answer is on its way, it asks once more after that. */
  refresh(): Promise<void> {
    this.again = true;
    this.refreshing ??= this.ask().finally(() => (this.refreshing = undefined));
    return this.refreshing;
  }

  private async ask(): Promise<void> {
    while (this.again) {
      this.again = false;
      const opened = this.opened;
      try {
        const desk = await api.desk();
        if (opened !== this.opened) this.again = true;
        else if (mayReplace(this.examination, desk.examination ?? undefined)) this.desk = desk;
      } catch (error) {
        this.fail(error);
      }
    }
  }

  /** Starts a piece of work; its progress comes with the events. */
  async start(work: Forms['JobRequest']): Promise<void> {
    try {
      await api.start(work);
      this.problem = '';
    } catch (error) {
      this.fail(error);
    }
  }

  go(room: Room, capture?: number): void {
    this.room = room;
    if (capture !== undefined) this.capture = capture;
    history.replaceState(null, '', `#${room}${this.capture === undefined ? '' : `/${this.capture}`}`);
  }

  /** Takes room and capture from the address, so that a reload comes back to the same place. */
  arrive(): void {
    const [room, capture] = location.hash.slice(1).split('/');
    const known = ROOMS.find(([name]) => name === room);
    if (known) this.room = known[0];
    if (capture && /^\d+$/.test(capture)) this.capture = Number(capture);
  }

  name(person: string): void {
    this.person = person;
    localStorage.setItem(PERSON_KEY, person);
  }

  wear(theme: string): void {
    this.theme = theme;
    localStorage.setItem(THEME_KEY, theme);
    document.documentElement.dataset['theme'] = theme;
  }

  /** Listens to what other pages and running work change, while the page is to be seen. */
  listen(): () => void {
    let events: EventSource | undefined;
    const hear = (event: MessageEvent<string>): void => {
      const said = JSON.parse(event.data) as { revision: number | null; jobs: Forms['JobForm'][] };
      this.jobs = said.jobs;
      if (said.revision !== (this.examination?.revision ?? null)) void this.refresh();
    };
    // A browser opens six connections to one server. A page that nobody sees gives its own back, else some forgotten
    // pages would leave none for tiles.
    const look = (): void => {
      if (document.hidden) {
        events?.close();
        events = undefined;
      } else if (!events) {
        // The first thing it says is how things stand, whatever was missed.
        events = new EventSource('/api/events');
        events.onmessage = hear;
      }
    };
    look();
    document.addEventListener('visibilitychange', look);
    return () => {
      document.removeEventListener('visibilitychange', look);
      events?.close();
    };
  }
}

export const workbench = new Workbench();
