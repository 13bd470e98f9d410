//! How well lines found on a picture agree with its truth.

use std::collections::BTreeMap;

use finish::render::{LineKind, Truth};

use super::samples::{Index, Sample, samples};

/// Contrast-to-noise ratio from which a scratch counts in recall.
pub const COUNTABLE_CNR: f64 = 0.7;
/// Lower edges of the bands of contrast-to-noise ratio; the last is open above.
pub const BANDS: [f64; 6] = [0.7, 1.0, 1.5, 2.0, 3.0, 4.5];
/// Length from which a trace on scratch-free stone counts as a false one, px.
const FALSE_TRACE_PX: usize = 50;
/// Part of a scratch that a trace must lie on to count as a trace of it, px.
const FRAGMENT_PX: usize = 15;
/// Scratches shorter than this do not count among those to be covered by one trace, px.
const COVERABLE_PX: usize = 50;

/// What false length lies on, in this order of precedence.
pub const GROUNDS: [(&str, Option<LineKind>); 7] = [
    ("fibre", Some(LineKind::Fibre)),
    ("crack", Some(LineKind::Crack)),
    ("pit", Some(LineKind::Pit)),
    ("lamella", Some(LineKind::Lamella)),
    ("cleavage", Some(LineKind::Cleavage)),
    ("boundary", Some(LineKind::Boundary)),
    ("plain", None),
];

/// Counts of 1-px samples and of objects; tallies of several pictures add up.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tally {
    /// Pixels looked at, MP.
    pub megapixels: f64,
    /// Samples found, and those on a true scratch of any contrast.
    pub found: usize,
    /// Of these, on a true scratch.
    pub found_true: usize,
    /// Visible samples of scratches that count, and those found.
    pub truth: usize,
    /// Of these, found.
    pub truth_found: usize,
    /// `[found, all]` by band of contrast.
    pub bands: [[usize; 2]; 6],
    /// False traces of at least 50 px, counted where there is no scratch at all.
    pub false_traces: usize,
    /// Scratch-free pixels looked at, MP.
    pub bare_megapixels: f64,
    /// Scratches that count and are long enough to be covered.
    pub coverable: usize,
    /// Of these, at least 80 % covered by one trace.
    pub covered: usize,
    /// Scratches met by any trace, and the traces on them.
    pub met: usize,
    /// Traces on the scratches met, summed.
    pub fragments: usize,
    /// False samples by what they lie on.
    pub false_on: [usize; 7],
}

impl Tally {
    /// Share of the found length that is true.
    #[must_use]
    pub fn precision(&self) -> f64 {
        ratio(self.found_true, self.found)
    }

    /// Share of the visible true length that is found.
    #[must_use]
    pub fn recall(&self) -> f64 {
        ratio(self.truth_found, self.truth)
    }

    /// Harmonic mean of the two.
    #[must_use]
    pub fn f1(&self) -> f64 {
        let (p, r) = (self.precision(), self.recall());
        if p + r > 0.0 { 2.0 * p * r / (p + r) } else { 0.0 }
    }

    /// False traces of at least 50 px per MP of scratch-free stone.
    #[must_use]
    pub fn false_per_megapixel(&self) -> f64 {
        if self.bare_megapixels > 0.0 { self.false_traces as f64 / self.bare_megapixels } else { f64::NAN }
    }

    /// Adds another picture.
    pub fn add(&mut self, other: &Self) {
        self.megapixels += other.megapixels;
        self.found += other.found;
        self.found_true += other.found_true;
        self.truth += other.truth;
        self.truth_found += other.truth_found;
        for (own, more) in self.bands.iter_mut().flatten().zip(other.bands.iter().flatten()) {
            *own += more;
        }
        self.false_traces += other.false_traces;
        self.bare_megapixels += other.bare_megapixels;
        self.coverable += other.coverable;
        self.covered += other.covered;
        self.met += other.met;
        self.fragments += other.fragments;
        for (own, more) in self.false_on.iter_mut().zip(other.false_on) {
            *own += more;
        }
    }
}

/// Share, not a number where there is nothing to share.
#[must_use]
pub fn ratio(part: usize, whole: usize) -> f64 {
    if whole > 0 { part as f64 / whole as f64 } else { f64::NAN }
}

/// The truth of one picture made ready for scoring.
pub struct Key<'a> {
    truth: &'a Truth,
    width: usize,
    height: usize,
    samples: Vec<Vec<Sample>>,
    seen: Vec<Vec<bool>>,
    index: Index,
}

impl<'a> Key<'a> {
    /// Samples the true scratches.
    #[must_use]
    pub fn new(truth: &'a Truth, width: usize, height: usize) -> Self {
        let samples: Vec<Vec<Sample>> = truth
            .scratches
            .iter()
            .enumerate()
            .map(|(k, s)| samples(&s.points_px, k, width, height))
            .collect();
        let seen = truth
            .scratches
            .iter()
            .zip(&samples)
            .map(|(scratch, samples)| {
                // Samples and truth points run along the same line from the same end.
                let per = scratch.visible.len() as f64 / samples.len().max(1) as f64;
                (0..samples.len())
                    .map(|k| scratch.visible.get((k as f64 * per) as usize).copied().unwrap_or(false))
                    .collect()
            })
            .collect();
        let all: Vec<Sample> = samples.iter().flatten().copied().collect();
        Self { truth, width, height, index: Index::new(&all, width, height), samples, seen }
    }

    /// For every sample of a found line, whether a true scratch runs there.
    #[must_use]
    pub fn hits(&self, points: &[[f64; 2]]) -> Vec<(Sample, bool)> {
        let hit = |s: Sample| (s, self.index.near(&s).next().is_some());
        samples(points, 0, self.width, self.height).into_iter().map(hit).collect()
    }

    /// The scratch that a found line lies on for at least `share` of its samples, and its first and last truth point there.
    #[must_use]
    pub fn owner(&self, points: &[[f64; 2]], share: f64) -> Option<(usize, usize, usize)> {
        let own = samples(points, 0, self.width, self.height);
        let mut votes: BTreeMap<usize, usize> = BTreeMap::new();
        for s in &own {
            let mut here: Vec<usize> = self.index.near(s).map(|n| n.line).collect();
            here.sort_unstable();
            here.dedup();
            for line in here {
                *votes.entry(line).or_default() += 1;
            }
        }
        let (&line, &count) = votes.iter().max_by_key(|(_, count)| **count)?;
        if (count as f64) < share * own.len() as f64 {
            return None;
        }
        let true_points = &self.truth.scratches.get(line)?.points_px;
        let nearest = |p: [f64; 2]| {
            let away = |q: &[f64; 2]| (q[0] - p[0]).hypot(q[1] - p[1]);
            (0..true_points.len()).min_by(|&a, &b| away(&true_points[a]).total_cmp(&away(&true_points[b])))
        };
        let (a, b) = (nearest(own.first()?.at)?, nearest(own.last()?.at)?);
        Some((line, a.min(b), a.max(b)))
    }

    /// Scores found lines.
    #[must_use]
    pub fn score(&self, lines: &[Vec<[f64; 2]>]) -> Tally {
        let mut tally = Tally { megapixels: (self.width * self.height) as f64 / 1e6, ..Tally::default() };
        let found: Vec<Vec<Sample>> =
            lines.iter().enumerate().map(|(k, l)| samples(l, k, self.width, self.height)).collect();
        for s in found.iter().flatten() {
            tally.found += 1;
            if self.index.near(s).next().is_some() {
                tally.found_true += 1;
            } else {
                tally.false_on[self.ground(s)] += 1;
            }
        }
        if self.truth.scratches.is_empty() {
            tally.bare_megapixels = tally.megapixels;
            tally.false_traces = found.iter().filter(|l| l.len() >= FALSE_TRACE_PX).count();
        }
        let all: Vec<Sample> = found.into_iter().flatten().collect();
        let index = Index::new(&all, self.width, self.height);
        for k in 0..self.samples.len() {
            self.score_scratch(k, &index, &mut tally);
        }
        tally
    }

    fn score_scratch(&self, k: usize, found: &Index, tally: &mut Tally) {
        let cnr = self.truth.scratches[k].cnr;
        if cnr < COUNTABLE_CNR {
            return;
        }
        let band = BANDS.iter().rposition(|&low| cnr >= low).unwrap_or(0);
        let mut by_trace: BTreeMap<usize, usize> = BTreeMap::new();
        let mut visible = 0;
        for (sample, _) in self.samples[k].iter().zip(&self.seen[k]).filter(|(_, seen)| **seen) {
            visible += 1;
            let mut here: Vec<usize> = found.near(sample).map(|n| n.line).collect();
            here.sort_unstable();
            here.dedup();
            tally.truth += 1;
            tally.bands[band][1] += 1;
            if !here.is_empty() {
                tally.truth_found += 1;
                tally.bands[band][0] += 1;
            }
            for line in here {
                *by_trace.entry(line).or_default() += 1;
            }
        }
        let pieces = by_trace.values().filter(|&&n| n >= FRAGMENT_PX).count();
        tally.met += usize::from(pieces > 0);
        tally.fragments += pieces;
        if visible >= COVERABLE_PX {
            tally.coverable += 1;
            let best = by_trace.values().copied().max().unwrap_or(0);
            tally.covered += usize::from(best as f64 >= 0.8 * f64::from(visible as u32));
        }
    }

    /// What a false sample lies on: the first kind of `GROUNDS` within 2 px.
    fn ground(&self, sample: &Sample) -> usize {
        let (x, y) = (sample.at[0].round() as i64, sample.at[1].round() as i64);
        let draws = |kind| {
            (-2..=2i64).any(|dy| {
                (-2..=2i64).any(|dx| {
                    let (x, y) = (x + dx, y + dy);
                    let inside = x >= 0 && y >= 0 && x < self.width as i64 && y < self.height as i64;
                    inside && self.truth.stone_draws(y as usize * self.width + x as usize, kind)
                })
            })
        };
        GROUNDS.iter().position(|(_, kind)| kind.is_none_or(draws)).unwrap_or(GROUNDS.len() - 1)
    }
}
