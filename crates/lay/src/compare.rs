//! Whether stations differ, tested by handing whole captures round.

use quantity::AxialDeg;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use rayon::prelude::*;

use crate::field::{Field, Unit};
use crate::two_sample::Ranked;
use crate::{Answer, CannotTell, axial};

/// Members of each group.
pub(crate) fn sizes(groups: &[usize], number: usize) -> Vec<f64> {
    let mut sizes = vec![0.0; number];
    for group in groups {
        if let Some(size) = sizes.get_mut(*group) {
            *size += 1.0;
        }
    }
    sizes
}

/// How to compare.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CompareOptions {
    /// Seed of the drawn permutations.
    pub seed: u64,
    /// Number of permutations drawn where there are too many to try all.
    pub resamples: usize,
    /// Whether the camera was held the same way at all stations, so that directions can be compared at all.
    pub common_orientation: bool,
}

impl Default for CompareOptions {
    fn default() -> Self {
        Self { seed: 1, resamples: 1999, common_orientation: true }
    }
}

/// What is compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// Directions of the traces.
    Direction,
    /// How strongly the traces of a capture agree in direction.
    Resultant,
    /// Traces met per area.
    Density,
    /// Widths.
    Width,
    /// Size of the curvatures.
    Bow,
    /// Ends per visible length: the inverse of the stroke length.
    StrokeLength,
}

impl Quantity {
    /// The quantity in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Direction => "directions",
            Self::Resultant => "agreement of directions",
            Self::Density => "number of traces per area",
            Self::Width => "widths",
            Self::Bow => "bow",
            Self::StrokeLength => "stroke length",
        }
    }
}

/// One test between stations.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// What was compared.
    pub quantity: Quantity,
    /// Stations compared, as numbered in the fields; all of them, or a pair.
    pub stations: Vec<usize>,
    /// The statistic: Watson's U² for directions, the variance ratio between and within stations for the rest.
    pub statistic: f64,
    /// Probability of at least this if captures were handed to the stations at random.
    pub p: f64,
    /// The same after Holm's correction for the number of tests of its kind.
    pub p_holm: f64,
    /// Smallest probability these captures could have shown: above 0.05 they cannot show a difference at all.
    pub smallest_p: f64,
}

/// Stations compared.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// One test per quantity over all stations together.
    pub overall: Vec<Answer<Difference>>,
    /// One test per quantity and pair of stations (only with three stations or more).
    pub pairs: Vec<Difference>,
    /// What was not compared and why.
    pub notes: Vec<String>,
}

/// Permutations up to this number are all tried.
const TRY_ALL: usize = 5000;

/// Compares the stations of `fields` in directions, density, widths, bow and stroke length by permuting whole captures: the
/// capture, not the trace, is what was drawn independently.
///
/// # Source
/// Permutation test (Fisher 1935); Holm 1979 (both from memory). Watson's U² as in [`crate::two_sample`].
#[must_use]
pub fn compare_stations(fields: &[Field], options: &CompareOptions) -> Comparison {
    let usable: Vec<&Field> = fields.iter().filter(|field| field.is_usable()).collect();
    let mut stations: Vec<usize> = usable.iter().map(|field| field.station).collect();
    stations.sort_unstable();
    stations.dedup();
    let mut notes = Vec::new();
    let scaled = usable.iter().filter(|field| field.um_per_px.is_some()).count();
    let unit = if scaled == usable.len() { Unit::Millimetre } else { Unit::Pixel };
    let mut quantities = vec![Quantity::Resultant];
    if options.common_orientation {
        quantities.insert(0, Quantity::Direction);
    } else {
        notes.push(
            "Directions were not compared: the camera was not held the same way at all stations.".to_owned(),
        );
    }
    if scaled == 0 || scaled == usable.len() {
        quantities.extend([Quantity::Density, Quantity::Width, Quantity::Bow, Quantity::StrokeLength]);
    } else {
        notes.push(format!(
            "Lengths were not compared: {} of {} captures have no scale.",
            usable.len() - scaled,
            usable.len()
        ));
    }
    let overall = holm_answers(
        quantities.iter().map(|&quantity| difference(&usable, &stations, quantity, unit, options)).collect(),
    );
    let mut pairs = Vec::new();
    if stations.len() > 2 {
        for &quantity in &quantities {
            for (index, &a) in stations.iter().enumerate() {
                for &b in stations.iter().skip(index + 1) {
                    pairs.extend(difference(&usable, &[a, b], quantity, unit, options));
                }
            }
        }
    }
    let corrected = holm(&pairs.iter().map(|pair| pair.p).collect::<Vec<_>>());
    pairs.iter_mut().zip(corrected).for_each(|(pair, p)| pair.p_holm = p);
    Comparison { overall, pairs, notes }
}

/// Holm's step-down correction of probabilities, in their order.
#[must_use]
pub fn holm(probabilities: &[f64]) -> Vec<f64> {
    let mut order: Vec<(usize, f64)> = probabilities.iter().copied().enumerate().collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut corrected = vec![1.0; probabilities.len()];
    let mut highest = 0.0_f64;
    for (rank, (index, p)) in order.into_iter().enumerate() {
        highest = highest.max((probabilities.len() - rank) as f64 * p).min(1.0);
        if let Some(slot) = corrected.get_mut(index) {
            *slot = highest;
        }
    }
    corrected
}

fn holm_answers(mut answers: Vec<Answer<Difference>>) -> Vec<Answer<Difference>> {
    let known: Vec<f64> = answers.iter().flatten().map(|difference| difference.p).collect();
    let corrected = holm(&known);
    answers.iter_mut().flatten().zip(corrected).for_each(|(difference, p)| difference.p_holm = p);
    answers
}

fn difference(
    fields: &[&Field],
    stations: &[usize],
    quantity: Quantity,
    unit: Unit,
    options: &CompareOptions,
) -> Answer<Difference> {
    if stations.len() < 2 {
        return Err(CannotTell::TooFew { what: "stations", found: stations.len(), needed: 2 });
    }
    let chosen: Vec<(&Field, usize)> = fields
        .iter()
        .filter_map(|field| Some((*field, stations.iter().position(|&s| s == field.station)?)))
        .collect();
    let statistic = Statistic::new(&chosen.iter().map(|pair| pair.0).collect::<Vec<_>>(), quantity, unit);
    let (statistic, groups): (Statistic, Vec<usize>) = match statistic {
        Statistic::Values(values) => {
            // A capture without such a value (no trace, say) takes no part.
            let kept: Vec<(f64, usize)> = values
                .iter()
                .copied()
                .zip(chosen.iter().map(|pair| pair.1))
                .filter(|(v, _)| v.is_finite())
                .collect();
            (
                Statistic::Values(kept.iter().map(|pair| pair.0).collect()),
                kept.iter().map(|pair| pair.1).collect(),
            )
        }
        directions => (directions, chosen.iter().map(|pair| pair.1).collect()),
    };
    let sizes: Vec<usize> = sizes(&groups, stations.len()).into_iter().map(|size| size as usize).collect();
    if sizes.contains(&0) || groups.len() <= stations.len() {
        return Err(CannotTell::TooFew {
            what: "captures with such traces",
            found: groups.len(),
            needed: stations.len() + 1,
        });
    }
    let seen = statistic.of(&groups, stations.len());
    let (p, smallest_p) = permute(&statistic, seen, &groups, &sizes, options);
    Ok(Difference { quantity, stations: stations.to_vec(), statistic: seen, p, p_holm: p, smallest_p })
}

/// What a permutation is judged by.
enum Statistic {
    /// One value per capture.
    Values(Vec<f64>),
    /// All traces, ranked, with the capture of each.
    Directions(Ranked, Vec<usize>),
}

impl Statistic {
    fn new(fields: &[&Field], quantity: Quantity, unit: Unit) -> Self {
        if quantity == Quantity::Direction {
            let axes: Vec<AxialDeg> =
                fields.iter().flat_map(|field| field.items.iter().map(|item| item.direction)).collect();
            let captures = fields
                .iter()
                .enumerate()
                .flat_map(|(index, field)| std::iter::repeat_n(index, field.items.len()))
                .collect();
            return Self::Directions(Ranked::new(&axial::doubled_rad(&axes)), captures);
        }
        Self::Values(fields.iter().map(|field| value_of(field, quantity, unit).unwrap_or(f64::NAN)).collect())
    }

    /// The statistic when capture `i` belongs to group `groups[i]`.
    fn of(&self, groups: &[usize], number: usize) -> f64 {
        match self {
            Self::Values(values) => variance_ratio(values, groups, number),
            Self::Directions(ranked, captures) => {
                let of_trace: Vec<usize> =
                    captures.iter().filter_map(|&capture| groups.get(capture).copied()).collect();
                ranked.watson(&of_trace, number)
            }
        }
    }
}

/// The capture's value of a quantity, on a scale where differences mean ratios.
fn value_of(field: &Field, quantity: Quantity, unit: Unit) -> Option<f64> {
    let per_px = field.unit_per_px(unit)?;
    let items = &field.items;
    let area = field.width_px * field.height_px * per_px * per_px;
    match quantity {
        Quantity::Direction => None,
        Quantity::Resultant => {
            axial::moments(&items.iter().map(|item| item.direction).collect::<Vec<_>>(), &[])
                .map(|moments| moments.resultant)
        }
        // Half a trace is added so that an empty capture has a logarithm.
        Quantity::Density => Some(((items.len() as f64 + 0.5) / area).ln()),
        Quantity::Width => {
            middle(items.iter().map(|item| item.width_px.value * per_px).filter(|w| *w > 0.0)).map(f64::ln)
        }
        Quantity::Bow => middle(items.iter().map(|item| item.curvature_per_px.value.abs() / per_px)),
        Quantity::StrokeLength => {
            let length: f64 = items.iter().map(|item| item.length_px * per_px).sum();
            let ends: f64 = items.iter().map(|item| f64::from(item.ends_inside)).sum();
            (length > 0.0).then(|| ((ends + 0.5) / length).ln())
        }
    }
}

fn middle(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.filter(|v| v.is_finite()).collect();
    values.sort_by(f64::total_cmp);
    (!values.is_empty()).then(|| crate::width::quantile(&values, 0.5))
}

/// Variance between groups over variance within, the statistic of an analysis of variance up to a constant.
fn variance_ratio(values: &[f64], groups: &[usize], number: usize) -> f64 {
    let sizes = sizes(groups, number);
    let mut sums = vec![0.0; number];
    for (value, group) in values.iter().zip(groups) {
        if let Some(sum) = sums.get_mut(*group) {
            *sum += value;
        }
    }
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let between: f64 = sums
        .iter()
        .zip(&sizes)
        .filter(|(_, size)| **size > 0.0)
        .map(|(sum, size)| size * (sum / size - mean).powi(2))
        .sum();
    let total: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    // Equal values everywhere: no variance at all, hence no difference.
    if total <= f64::EPSILON * mean * mean * values.len() as f64 {
        return 0.0;
    }
    let within = (total - between).max(1e-12 * total);
    let degrees = ((number - 1) as f64, (values.len() - number) as f64);
    between / degrees.0 / (within / degrees.1)
}

/// Share of the arrangements of captures whose statistic is at least `seen`, and the smallest share there could be.
fn permute(
    statistic: &Statistic,
    seen: f64,
    groups: &[usize],
    sizes: &[usize],
    options: &CompareOptions,
) -> (f64, f64) {
    let number = sizes.len();
    // Sums in another order differ in the last digits; those must not decide.
    let reached = |groups: &[usize]| usize::from(statistic.of(groups, number) >= seen - 1e-9 * seen.abs());
    let arrangements = arrangements(sizes);
    // Groups of equal size can change names without changing the statistic.
    let twins = twins(sizes) as f64;
    if arrangements <= TRY_ALL as f64 {
        let mut all = Vec::new();
        let mut left = sizes.to_vec();
        arrange(&mut left, &mut Vec::new(), groups.len(), &mut all);
        let as_large: usize = all.par_iter().map(|groups| reached(groups)).sum();
        return (as_large as f64 / all.len() as f64, twins / all.len() as f64);
    }
    let mut rng = Pcg64::seed_from_u64(options.seed);
    let drawn: Vec<Vec<usize>> = (0..options.resamples).map(|_| shuffled(groups, &mut rng)).collect();
    let as_large: usize = drawn.par_iter().map(|groups| reached(groups)).sum();
    let smallest = (twins / arrangements).max(1.0 / (options.resamples as f64 + 1.0));
    ((as_large as f64 + 1.0) / (options.resamples as f64 + 1.0), smallest)
}

/// Number of ways to hand captures to groups of these sizes.
fn arrangements(sizes: &[usize]) -> f64 {
    let mut ways = 1.0;
    let mut placed = 0;
    for &size in sizes {
        for i in 1..=size {
            placed += 1;
            ways *= f64::from(placed) / i as f64;
        }
    }
    ways
}

/// Number of ways to rename groups of equal size.
fn twins(sizes: &[usize]) -> usize {
    let mut sorted = sizes.to_vec();
    sorted.sort_unstable();
    sorted.chunk_by(|a, b| a == b).map(|same| (1..=same.len()).product::<usize>()).product()
}

fn arrange(left: &mut [usize], done: &mut Vec<usize>, total: usize, all: &mut Vec<Vec<usize>>) {
    if done.len() == total {
        all.push(done.clone());
        return;
    }
    for group in 0..left.len() {
        if left[group] > 0 {
            left[group] -= 1;
            done.push(group);
            arrange(left, done, total, all);
            done.pop();
            left[group] += 1;
        }
    }
}

fn shuffled(groups: &[usize], rng: &mut Pcg64) -> Vec<usize> {
    let mut shuffled = groups.to_vec();
    for last in (1..shuffled.len()).rev() {
        shuffled.swap(last, rng.random_range(0..=last));
    }
    shuffled
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holm_steps_down() {
        // Worked by hand: 0.01·3, then max(0.03, 0.03·2), then max(0.06, 0.04·1).
        let corrected = holm(&[0.01, 0.04, 0.03]);
        for (ours, by_hand) in corrected.iter().zip([0.03, 0.06, 0.06]) {
            assert!((ours - by_hand).abs() < 1e-12);
        }
        assert!(holm(&[]).is_empty());
    }

    #[test]
    fn arrangements_are_counted() {
        let mut all = Vec::new();
        arrange(&mut [2, 1, 1], &mut Vec::new(), 4, &mut all);
        assert_eq!(all.len() as f64, arrangements(&[2, 1, 1]));
        assert_eq!(arrangements(&[3, 3, 3, 3]), 369_600.0);
        assert_eq!(twins(&[3, 3, 2]), 2);
    }
}
