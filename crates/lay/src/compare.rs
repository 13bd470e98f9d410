//! Whether stations differ, tested by handing whole captures round.

use quantity::{AxialDeg, Measured};

use crate::field::{Field, Unit};
use crate::permutation::Permutation;
use crate::two_sample::Ranked;
use crate::{Answer, CannotTell, axial, curvature};

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
    /// Probability of at least this if captures of like width were handed to the stations at random.
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

/// Fields are of like width if the wider of neighbours in width is at most this many times as wide: a zoom set by hand
/// repeats within it, a change of objective does not (our choice).
const LIKE_WIDTH: f64 = 1.25;

/// Compares the stations of `fields` in directions, density, widths, bow and stroke length by permuting whole captures: the
/// capture, not the trace, is what was drawn independently. Captures are handed round among those of like field width only,
/// and their values ranked among these: what is seen of a surface depends on the magnification more than on the surface, and
/// the values of a narrow field scatter more.
///
/// # Source
/// Permutation test (Fisher 1935); ranks within strata (Kruskal & Wallis 1952, van Elteren 1960); Holm 1979 (all from memory).
/// Watson's U² as in [`crate::two_sample`].
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
    if last(&strata(&usable, unit)) > 0 {
        notes.push("Only captures of like width of field were compared with each other.".to_owned());
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
    let chosen: Vec<&Field> =
        fields.iter().copied().filter(|field| stations.contains(&field.station)).collect();
    let strata_of = strata(&chosen, unit);
    // A capture without such a value (no trace, say) takes no part.
    let kept: Vec<(usize, usize, f64)> = chosen
        .iter()
        .zip(&strata_of)
        .enumerate()
        .map(|(index, (field, stratum))| {
            (index, *stratum, value_of(field, quantity, unit).unwrap_or(f64::NAN))
        })
        .filter(|(_, _, value)| quantity == Quantity::Direction || value.is_finite())
        .collect();
    let taking_part: Vec<&Field> =
        kept.iter().filter_map(|(index, ..)| chosen.get(*index).copied()).collect();
    let strata_of: Vec<usize> = kept.iter().map(|(_, stratum, _)| *stratum).collect();
    let groups: Vec<usize> = taking_part
        .iter()
        .filter_map(|field| stations.iter().position(|&station| station == field.station))
        .collect();
    let all_present = (0..stations.len()).all(|station| groups.contains(&station));
    if !all_present || groups.len() <= stations.len() {
        return Err(CannotTell::TooFew {
            what: "captures with such traces",
            found: groups.len(),
            needed: stations.len() + 1,
        });
    }
    let statistic = match quantity {
        Quantity::Direction => Statistic::directions(&taking_part),
        _ => Statistic::Values(ranks_within(
            &kept.iter().map(|(.., value)| *value).collect::<Vec<_>>(),
            &strata_of,
        )),
    };
    let permutation = Permutation { groups: &groups, strata: &strata_of, number: stations.len() };
    let of = |groups: &[usize]| statistic.of(groups, stations.len());
    let seen = of(&groups);
    let (p, smallest_p) = permutation.test(of, options.seed, options.resamples);
    Ok(Difference { quantity, stations: stations.to_vec(), statistic: seen, p, p_holm: p, smallest_p })
}

/// The stratum of each field, numbered from the narrowest: fields of like width.
fn strata(fields: &[&Field], unit: Unit) -> Vec<usize> {
    let width = |field: &Field| field.width_px * field.unit_per_px(unit).unwrap_or(1.0);
    let mut order: Vec<(usize, f64)> = fields.iter().map(|field| width(field)).enumerate().collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut strata = vec![0; fields.len()];
    let (mut stratum, mut before) = (0, f64::NAN);
    for (index, width) in order {
        if width > LIKE_WIDTH * before {
            stratum += 1;
        }
        before = width;
        if let Some(slot) = strata.get_mut(index) {
            *slot = stratum;
        }
    }
    strata
}

fn last(strata: &[usize]) -> usize {
    strata.iter().copied().max().unwrap_or(0)
}

/// Rank of each value among those of its stratum, from −½ to ½; alike for values that differ by rounding only.
fn ranks_within(values: &[f64], strata: &[usize]) -> Vec<f64> {
    let largest = values.iter().fold(0.0_f64, |largest, value| largest.max(value.abs()));
    let rank = |(value, stratum): (&f64, &usize)| {
        let others = values.iter().zip(strata).filter(|(_, other)| *other == stratum);
        let (mut above, mut count) = (0.0, 0.0);
        for (other, _) in others {
            let step = value - other;
            above += if step.abs() <= 1e-12 * largest { 0.0 } else { 0.5 * step.signum() };
            count += 1.0;
        }
        above / (count + 1.0)
    };
    values.iter().zip(strata).map(rank).collect()
}

/// What a permutation is judged by.
enum Statistic {
    /// One rank per capture, within its stratum.
    Values(Vec<f64>),
    /// All traces, ranked, with the capture of each.
    Directions(Ranked, Vec<usize>),
}

impl Statistic {
    fn directions(fields: &[&Field]) -> Self {
        let axes: Vec<AxialDeg> =
            fields.iter().flat_map(|field| field.items.iter().map(|item| item.direction)).collect();
        let captures = fields
            .iter()
            .enumerate()
            .flat_map(|(index, field)| std::iter::repeat_n(index, field.items.len()))
            .collect();
        Self::Directions(Ranked::new(&axial::doubled_rad(&axes)), captures)
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

/// The capture's value of a quantity.
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
        Quantity::Bow => {
            let bows: Vec<_> = items.iter().map(|item| item.curvature_per_px.scaled(1.0 / per_px)).collect();
            let [values, u] = [|bow: &Measured| bow.value, |bow: &Measured| bow.u]
                .map(|part| bows.iter().map(part).collect::<Vec<_>>());
            curvature::straightness(&values, &u).ok().map(|straightness| straightness.typical.value)
        }
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
    if total <= 0.0 {
        return 0.0;
    }
    let within = (total - between).max(1e-12 * total);
    let degrees = ((number - 1) as f64, (values.len() - number) as f64);
    between / degrees.0 / (within / degrees.1)
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

    fn field(station: usize, width_px: f64, ends_inside: u8, length_px: f64) -> Field {
        let item = crate::Item {
            direction: AxialDeg::new(30.0).unwrap(),
            direction_u_deg: 0.5,
            length_px,
            curvature_per_px: quantity::Measured { value: 1e-4, u: 1e-5 },
            width_px: quantity::Measured { value: 3.0, u: 0.3 },
            ends_inside,
            start_px: [10.0, 10.0],
            end_px: [50.0, 60.0],
        };
        Field { station, width_px, height_px: width_px, um_per_px: None, items: vec![item; 10] }
    }

    /// Wide and narrow fields differ far more than the stations do: only captures of like fields are handed round.
    #[test]
    fn a_difference_shows_through_fields_of_two_sizes() {
        let fields: Vec<Field> = (0..3)
            .flat_map(|station| {
                let ends = station as u8;
                [900.0, 910.0, 920.0]
                    .map(|width| field(station, width, ends, 300.0 + width / 10.0))
                    .into_iter()
                    .chain([90.0, 91.0, 92.0].map(|width| field(station, width, ends, 30.0 + width / 100.0)))
                    .collect::<Vec<_>>()
            })
            .collect();
        let options = CompareOptions { common_orientation: false, ..CompareOptions::default() };
        let compared = compare_stations(&fields, &options);
        let stroke = compared
            .overall
            .iter()
            .flatten()
            .find(|difference| difference.quantity == Quantity::StrokeLength)
            .unwrap();
        assert!(stroke.p < 0.01, "{}", stroke.p);
        assert!(compared.notes.iter().any(|note| note.contains("like width")), "{:?}", compared.notes);
    }

    #[test]
    fn equal_captures_do_not_differ() {
        let fields: Vec<Field> = (0..3)
            .flat_map(|station| [900.0, 90.0].map(|width| field(station, width, 1, width / 3.0)))
            .collect();
        let compared = compare_stations(&fields, &CompareOptions::default());
        for difference in compared.overall.iter().flatten() {
            assert!(difference.p > 0.99, "{difference:?}");
        }
    }
}
