import { KIND } from '../draw/geometry';
import type { LineLook, Looks } from '../draw/raster';

/** Colours as 0xBBGGRR. They stand out on grey stone, differ in lightness, and stay apart for colour-blind eyes;
 * kinds differ in dash and weight besides. */
const BLUE = 0xffa640;
const YELLOW = 0x00d8ff;
const WHITE = 0xffffff;
const GREY = 0xb0b0b0;
const ORANGE = 0x0080ff;

const thin: LineLook = { halfWidth: 0.7, dash: 0, gap: 0, colour: BLUE };

/** How each kind of trace is drawn. */
export const LOOKS: Looks = {
  [KIND.accepted]: thin,
  [KIND.suspect]: { ...thin, dash: 7, gap: 5, colour: YELLOW },
  [KIND.rejected]: { ...thin, halfWidth: 0.5, dash: 2, gap: 6, colour: GREY },
  [KIND.drawn]: { ...thin, halfWidth: 0.8, dash: 16, gap: 2, colour: WHITE },
  [KIND.chosen]: { ...thin, halfWidth: 2, colour: ORANGE },
};

/** Nothing drawn, to see the bare stone. */
export const BARE: Looks = {
  [KIND.accepted]: { ...thin, halfWidth: -1 },
  [KIND.suspect]: { ...thin, halfWidth: -1 },
  [KIND.rejected]: { ...thin, halfWidth: -1 },
  [KIND.drawn]: { ...thin, halfWidth: -1 },
  [KIND.chosen]: { ...thin, halfWidth: -1 },
};
