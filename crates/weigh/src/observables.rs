//! Marks to observables: per field, then per object.

use crate::geometry::Geometry;
use crate::mark::Mark;
use std::f64::consts::PI;

/// Groups of observables, for the sensitivity and for the words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// How many traces there are.
    Count,
    /// Directions, sets and crossing.
    Directions,
    /// How strongly traces bend.
    Curvature,
    /// Whether they bend alike.
    Consistency,
    /// Stroke ends and lengths.
    Ends,
    /// Widths.
    Widths,
    /// Scatter of a trace about a smooth line.
    Raggedness,
    /// A common centre of turning.
    Centre,
    /// Distances between neighbours.
    Spacing,
}

impl Group {
    /// All groups in fixed order.
    pub const ALL: [Group; 9] = [
        Group::Count,
        Group::Directions,
        Group::Curvature,
        Group::Consistency,
        Group::Ends,
        Group::Widths,
        Group::Raggedness,
        Group::Centre,
        Group::Spacing,
    ];

    /// Name in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Group::Count => "number of traces",
            Group::Directions => "directions",
            Group::Curvature => "size of curvature",
            Group::Consistency => "consistency of curvature",
            Group::Ends => "ends and lengths",
            Group::Widths => "widths",
            Group::Raggedness => "raggedness of the traces",
            Group::Centre => "common centre",
            Group::Spacing => "spacing",
        }
    }
}

/// Observables of one field, in the order of [`field_observables`].
const FIELD: [(&str, Group); 42] = [
    ("log number of traces", Group::Count),
    ("resultant of the directions", Group::Directions),
    ("resultant of the doubled axes", Group::Directions),
    ("share of the main set", Group::Directions),
    ("spread of the main set", Group::Directions),
    ("share of the second set", Group::Directions),
    ("crossing angle", Group::Directions),
    ("median curvature", Group::Curvature),
    ("lower quartile of curvature", Group::Curvature),
    ("upper quartile of curvature", Group::Curvature),
    ("share of traces with resolved curvature", Group::Curvature),
    ("weighted mean curvature", Group::Curvature),
    ("resolution of curvature", Group::Curvature),
    ("median turning of a trace", Group::Curvature),
    ("largest turnings", Group::Curvature),
    ("spread of curvature beyond its noise", Group::Consistency),
    ("bending to one side in the main set", Group::Consistency),
    ("spread of signed curvature in the main set", Group::Consistency),
    ("bending to one side overall", Group::Consistency),
    ("change of curvature along a trace", Group::Consistency),
    ("correlation of curvature and length", Group::Consistency),
    ("correlation of curvature and direction", Group::Consistency),
    ("share of traces with both ends", Group::Ends),
    ("share of traces with no end", Group::Ends),
    ("mean length of complete traces", Group::Ends),
    ("evenness of complete lengths", Group::Ends),
    ("stroke length from censored lengths", Group::Ends),
    ("median visible length", Group::Ends),
    ("longest visible length", Group::Ends),
    ("share of short complete traces", Group::Ends),
    ("median width", Group::Widths),
    ("spread of widths", Group::Widths),
    ("median raggedness", Group::Raggedness),
    ("largest raggedness", Group::Raggedness),
    ("raggedness over width", Group::Raggedness),
    ("bending back and forth", Group::Raggedness),
    ("distance of the common centre", Group::Centre),
    ("closeness to the common centre", Group::Centre),
    ("radius over distance of the centre", Group::Centre),
    ("turning of direction along the set", Group::Centre),
    ("evenness of the gaps in the main set", Group::Spacing),
    ("smallest gaps over the mean gap", Group::Spacing),
];

/// Observables pooled over all fields of an object.
const POOLED: [(&str, Group); 17] = [
    ("usable fields", Group::Count),
    ("lowest tenth of curvature, all fields", Group::Curvature),
    ("lower quartile of curvature, all fields", Group::Curvature),
    ("median curvature, all fields", Group::Curvature),
    ("upper quartile of curvature, all fields", Group::Curvature),
    ("highest tenth of curvature, all fields", Group::Curvature),
    ("weighted mean curvature, all fields", Group::Curvature),
    ("spread of curvature, all fields", Group::Consistency),
    ("bending to one side in each field, all fields", Group::Consistency),
    ("stroke length, all fields", Group::Ends),
    ("mean complete length, all fields", Group::Ends),
    ("evenness of complete lengths, all fields", Group::Ends),
    ("spread of widths, all fields", Group::Widths),
    ("raggedness over width, all fields", Group::Raggedness),
    ("curvature differs between fields", Group::Consistency),
    ("spread of the sets, all fields", Group::Directions),
    ("most sets seen in a field", Group::Directions),
];

/// Number of observables of an object.
pub const N_OBSERVABLES: usize = 2 * FIELD.len() + POOLED.len();

/// Name of an observable in words.
#[must_use]
pub fn name(index: usize) -> String {
    let n = FIELD.len();
    match index {
        i if i < n => FIELD[i].0.to_string(),
        i if i < 2 * n => format!("difference between fields in {}", FIELD[i - n].0),
        i => POOLED.get(i - 2 * n).map_or_else(String::new, |(words, _)| (*words).to_string()),
    }
}

/// Group of an observable.
#[must_use]
pub fn group(index: usize) -> Group {
    let n = FIELD.len();
    match index {
        i if i < n => FIELD[i].1,
        i if i < 2 * n => FIELD[i - n].1,
        i => POOLED.get(i - 2 * n).map_or(Group::Count, |(_, group)| *group),
    }
}

/// Whether an observable is a difference between fields.
#[must_use]
pub fn is_difference(index: usize) -> bool {
    (FIELD.len()..2 * FIELD.len()).contains(&index)
}

/// One object's observables; `NaN` where the marks do not say.
pub type Row = Vec<f32>;

/// Observables of an object from its marks, field by field.
#[must_use]
pub fn observe(fields: &[Vec<Mark>], geometry: &Geometry) -> Row {
    let mut per_field: Vec<[f64; FIELD.len()]> = Vec::with_capacity(fields.len());
    for (marks, field) in fields.iter().zip(&geometry.fields) {
        per_field.push(field_observables(marks, field.width_mm, field.mm_per_px));
    }
    let mut row = Vec::with_capacity(N_OBSERVABLES);
    let column = |index: usize| per_field.iter().map(move |f| f[index]).filter(|v| v.is_finite());
    for index in 0..FIELD.len() {
        row.push(mean(column(index)) as f32);
    }
    for index in 0..FIELD.len() {
        row.push(spread(column(index)) as f32);
    }
    row.extend(pooled(fields, &per_field).map(|value| value as f32));
    row
}

fn field_observables(marks: &[Mark], width_mm: f64, mm_per_px: f64) -> [f64; FIELD.len()] {
    let mut o = [f64::NAN; FIELD.len()];
    let n = marks.len();
    o[0] = (1.0 + n as f64).ln();
    if n < 2 {
        return o;
    }
    let sets = Sets::find(marks);
    o[1] = resultant(marks, 2.0);
    o[2] = resultant(marks, 4.0);
    o[3] = sets.main.len() as f64 / n as f64;
    o[4] = sets.main_spread_rad.to_degrees();
    o[5] = sets.second_share;
    o[6] = sets.crossing_rad.to_degrees();
    curvature(marks, &mut o);
    consistency(marks, &sets, &mut o);
    ends(marks, width_mm, &mut o);
    let widths = sorted(marks.iter().map(|m| m.width_um.ln()));
    o[30] = quantile(&widths, 0.5);
    o[31] = spread(widths.iter().copied());
    raggedness(marks, mm_per_px, &mut o);
    if n >= 5 {
        centre(marks, &sets, width_mm, &mut o);
        gaps(marks, &sets, &mut o);
    }
    o
}

/// |curvature| held above half its noise, so that its logarithm is defined.
fn bend(mark: &Mark) -> f64 {
    mark.curvature_per_mm.abs().max(0.5 * mark.curvature_sd_per_mm)
}

fn weight(mark: &Mark) -> f64 {
    // Half the bending itself as a floor: no single long trace rules the mean.
    let floor = 0.3 * mark.curvature_per_mm.abs();
    1.0 / (mark.curvature_sd_per_mm.powi(2) + floor * floor).max(1e-18)
}

fn curvature(marks: &[Mark], o: &mut [f64; FIELD.len()]) {
    let bends = sorted(marks.iter().map(|m| bend(m).ln()));
    o[7] = quantile(&bends, 0.5);
    o[8] = quantile(&bends, 0.25);
    o[9] = quantile(&bends, 0.75);
    let resolved = marks.iter().filter(|m| m.curvature_per_mm.abs() > 3.0 * m.curvature_sd_per_mm).count();
    o[10] = resolved as f64 / marks.len() as f64;
    let mean_bend = weighted_mean(marks, |m| m.curvature_per_mm.abs());
    o[11] = mean_bend.max(1e-7).ln();
    o[12] = mean(marks.iter().map(|m| m.curvature_sd_per_mm.ln()));
    let turns = sorted(marks.iter().map(|m| m.turn_rad));
    o[13] = quantile(&turns, 0.5);
    o[14] = quantile(&turns, 0.9);
    o[15] = excess_spread(marks.iter(), |m| m.curvature_per_mm.abs());
}

/// Standard deviation beyond the expected noise over the mean, signed square root of the difference of variances.
fn excess_spread<'a>(marks: impl Iterator<Item = &'a Mark> + Clone, value: impl Fn(&Mark) -> f64) -> f64 {
    let n = marks.clone().count() as f64;
    if n < 3.0 {
        return f64::NAN;
    }
    let average = marks.clone().map(&value).sum::<f64>() / n;
    let variance = marks.clone().map(|m| (value(m) - average).powi(2)).sum::<f64>() / (n - 1.0);
    let noise = marks.map(|m| m.curvature_sd_per_mm.powi(2)).sum::<f64>() / n;
    let excess = variance - noise;
    (excess.signum() * excess.abs().sqrt() / average.abs().max(1e-7)).clamp(-20.0, 20.0)
}

fn consistency(marks: &[Mark], sets: &Sets, o: &mut [f64; FIELD.len()]) {
    let signed = |m: &Mark| sets.signed_bend(m);
    let main: Vec<&Mark> = sets.main.iter().filter_map(|index| marks.get(*index)).collect();
    let one_sided = |chosen: &mut dyn Iterator<Item = &Mark>| {
        let (mut sum, mut total) = (0.0, 0.0);
        for m in chosen {
            let w = weight(m);
            sum += w * signed(m);
            total += w * m.curvature_per_mm.abs();
        }
        if total > 0.0 { sum.abs() / total } else { f64::NAN }
    };
    if main.len() >= 3 {
        o[16] = one_sided(&mut main.iter().copied());
        o[17] = excess_spread(main.iter().copied(), signed);
    }
    o[18] = one_sided(&mut marks.iter());
    // The cubic against what bending alone leads one to expect.
    o[19] = mean(marks.iter().map(|m| {
        let sagitta_um = 125.0 * m.curvature_per_mm.abs() * m.length_mm * m.length_mm;
        (m.cubic_um.abs() / (sagitta_um + 0.5 * m.residual_um + 0.05)).ln().max(-8.0)
    }));
    o[20] = correlation(marks.iter().map(|m| (bend(m).ln(), m.length_mm.ln())));
    let axis = sets.main_axis_rad;
    o[21] = correlation(marks.iter().map(|m| (signed(m), turn_between(axis, m.direction_rad)))).abs();
}

fn ends(marks: &[Mark], width_mm: f64, o: &mut [f64; FIELD.len()]) {
    let n = marks.len() as f64;
    let complete: Vec<f64> = marks.iter().filter(|m| m.ends_inside == 2).map(|m| m.length_mm.ln()).collect();
    o[22] = complete.len() as f64 / n;
    o[23] = marks.iter().filter(|m| m.ends_inside == 0).count() as f64 / n;
    if !complete.is_empty() {
        o[24] = mean(complete.iter().copied());
    }
    if complete.len() >= 3 {
        o[25] = spread(complete.iter().copied());
    }
    o[26] = censored_length(marks.iter());
    let lengths = sorted(marks.iter().map(|m| (m.length_mm / width_mm).ln()));
    o[27] = quantile(&lengths, 0.5);
    o[28] = quantile(&lengths, 0.95);
    o[29] = marks.iter().filter(|m| m.ends_inside == 2 && m.length_mm < 0.15 * width_mm).count() as f64 / n;
}

/// Log of the exponential maximum-likelihood length: total length over the number of strokes that ended here.
fn censored_length<'a>(marks: impl Iterator<Item = &'a Mark>) -> f64 {
    let (total, ends) = marks
        .fold((0.0, 0.0), |(total, ends), m| (total + m.length_mm, ends + 0.5 * f64::from(m.ends_inside)));
    (total / (ends + 0.5)).max(1e-6).ln()
}

fn raggedness(marks: &[Mark], mm_per_px: f64, o: &mut [f64; FIELD.len()]) {
    let floor = 50.0 * mm_per_px;
    let ragged = sorted(marks.iter().map(|m| m.residual_um.max(floor).ln()));
    o[32] = quantile(&ragged, 0.5);
    o[33] = quantile(&ragged, 0.9);
    let relative = sorted(marks.iter().map(|m| (m.residual_um.max(floor) / m.width_um).ln()));
    o[34] = quantile(&relative, 0.5);
    o[35] = mean(marks.iter().map(|m| {
        let sagitta_um = 125.0 * m.curvature_per_mm.abs() * m.length_mm * m.length_mm;
        (m.residual_um / (sagitta_um + floor)).ln().clamp(-8.0, 8.0)
    }));
}

/// Best common centre: the point nearest to the normals of all traces, in the least-squares sense.
fn centre(marks: &[Mark], sets: &Sets, width_mm: f64, o: &mut [f64; FIELD.len()]) {
    let (mut a, mut b, mut d, mut p, mut q) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for m in marks {
        let (ty, tx) = m.direction_rad.sin_cos();
        let along = tx * m.at_mm[0] + ty * m.at_mm[1];
        a += tx * tx;
        b += tx * ty;
        d += ty * ty;
        p += tx * along;
        q += ty * along;
    }
    let determinant = a * d - b * b;
    if determinant > 1e-9 {
        let c = [(d * p - b * q) / determinant, (a * q - b * p) / determinant];
        let distance = c[0].hypot(c[1]).clamp(0.01 * width_mm, 3000.0 * width_mm);
        let off = mean(marks.iter().map(|m| {
            let (dx, dy) = (m.at_mm[0] - c[0], m.at_mm[1] - c[1]);
            let (ty, tx) = m.direction_rad.sin_cos();
            let sine = (dx * tx + dy * ty) / dx.hypot(dy).max(1e-9);
            sine * sine
        }));
        o[36] = distance.ln();
        let free = (0.5 * (1.0 - resultant(marks, 2.0))).max(1e-8);
        o[37] = 0.5 * (off.max(1e-8) / free).ln();
        o[38] = (distance * o[11].exp()).ln().clamp(-8.0, 8.0);
    }
    // How the direction turns along the set: equal to the curvature where strokes share one centre.
    let (sin, cos) = sets.main_axis_rad.sin_cos();
    let pairs =
        sets.main.iter().filter_map(|index| marks.get(*index)).map(|m| {
            (m.at_mm[0] * cos + m.at_mm[1] * sin, turn_between(sets.main_axis_rad, m.direction_rad))
        });
    let slope = slope(pairs);
    let signed = weighted_mean(marks, |m| sets.signed_bend(m));
    o[39] = (slope / (signed.abs() + 0.02 / width_mm) * signed.signum()).clamp(-10.0, 10.0);
}

/// Gaps between neighbours of the main set along its normal.
fn gaps(marks: &[Mark], sets: &Sets, o: &mut [f64; FIELD.len()]) {
    let (sin, cos) = sets.main_axis_rad.sin_cos();
    let offsets = sorted(
        sets.main.iter().filter_map(|index| marks.get(*index)).map(|m| m.at_mm[1] * cos - m.at_mm[0] * sin),
    );
    if offsets.len() < 5 {
        return;
    }
    let gaps = sorted(offsets.windows(2).map(|pair| pair[1] - pair[0]));
    let average = mean(gaps.iter().copied()).max(1e-9);
    o[40] = spread(gaps.iter().copied()) / average;
    o[41] = (quantile(&gaps, 0.2) / average).max(1e-3).ln();
}

fn pooled(fields: &[Vec<Mark>], per_field: &[[f64; FIELD.len()]]) -> [f64; POOLED.len()] {
    let mut o = [f64::NAN; POOLED.len()];
    let all: Vec<Mark> = fields.iter().flatten().copied().collect();
    let usable = fields.iter().filter(|marks| marks.len() >= 3).count();
    o[0] = usable as f64 / fields.len().max(1) as f64;
    if all.len() < 3 {
        return o;
    }
    let bends = sorted(all.iter().map(|m| bend(m).ln()));
    for (slot, share) in [(1, 0.1), (2, 0.25), (3, 0.5), (4, 0.75), (5, 0.9)] {
        o[slot] = quantile(&bends, share);
    }
    o[6] = weighted_mean(&all, |m| m.curvature_per_mm.abs()).max(1e-7).ln();
    o[7] = excess_spread(all.iter(), |m| m.curvature_per_mm.abs());
    o[8] = mean(per_field.iter().map(|f| f[18]).filter(|v| v.is_finite()).map(|v| v * v));
    o[9] = censored_length(all.iter());
    let complete: Vec<f64> = all.iter().filter(|m| m.ends_inside == 2).map(|m| m.length_mm.ln()).collect();
    if complete.len() >= 3 {
        o[10] = mean(complete.iter().copied());
        o[11] = spread(complete.iter().copied());
    }
    o[12] = spread(all.iter().map(|m| m.width_um.ln()));
    o[13] = quantile(&sorted(all.iter().map(|m| (m.residual_um.max(0.01) / m.width_um).ln())), 0.5);
    // Curvature between fields beyond what its scatter within them explains.
    let between = spread(per_field.iter().map(|f| f[7]).filter(|v| v.is_finite()));
    let within = mean(per_field.iter().map(|f| f[9] - f[8]).filter(|v| v.is_finite()));
    o[14] = between - 0.3 * within;
    o[15] = quantile(&sorted(per_field.iter().map(|f| f[4]).filter(|v| v.is_finite())), 0.25);
    o[16] = per_field.iter().map(|f| f[5]).filter(|v| v.is_finite()).fold(f64::NAN, f64::max);
    o
}

/// The main set and the second one, by a histogram of axes.
struct Sets {
    main: Vec<usize>,
    main_axis_rad: f64,
    main_spread_rad: f64,
    second_share: f64,
    crossing_rad: f64,
}

/// Half-width of a set about its mode, radians (ours: 16°).
const SET_HALF_WIDTH_RAD: f64 = 0.28;
/// Bins of the histogram of axes.
const AXIS_BINS: usize = 36;

impl Sets {
    fn find(marks: &[Mark]) -> Sets {
        let all: Vec<usize> = (0..marks.len()).collect();
        let axis = mode(marks, &all);
        let (main, axis) = gather(marks, &all, axis);
        let squares =
            main.iter().filter_map(|i| marks.get(*i)).map(|m| turn_between(axis, m.direction_rad).powi(2));
        let main_spread_rad = (squares.sum::<f64>() / main.len().max(1) as f64).sqrt();
        let rest: Vec<usize> = all
            .iter()
            .copied()
            .filter(|i| turn_between(axis, marks[*i].direction_rad).abs() > 1.3 * SET_HALF_WIDTH_RAD)
            .collect();
        let (mut second_share, mut crossing_rad) = (0.0, f64::NAN);
        if rest.len() >= 2 {
            let (second, second_axis) = gather(marks, &rest, mode(marks, &rest));
            second_share = second.len() as f64 / marks.len() as f64;
            if second.len() >= 3 {
                crossing_rad = turn_between(axis, second_axis).abs();
            }
        }
        Sets { main, main_axis_rad: axis, main_spread_rad, second_share, crossing_rad }
    }

    /// Curvature with its sign counted along the main axis: traces nearly opposite in heading bend the same way.
    fn signed_bend(&self, mark: &Mark) -> f64 {
        let apart = (mark.direction_rad - self.main_axis_rad).abs();
        if apart > 0.5 * PI { -mark.curvature_per_mm } else { mark.curvature_per_mm }
    }
}

fn mode(marks: &[Mark], chosen: &[usize]) -> f64 {
    let mut histogram = [0.0; AXIS_BINS];
    for index in chosen {
        let bin = (marks[*index].direction_rad / PI * AXIS_BINS as f64) as usize;
        histogram[bin.min(AXIS_BINS - 1)] += 1.0;
    }
    let smooth = |k: usize| {
        let at = |shift: usize| histogram[(k + shift + AXIS_BINS - 2) % AXIS_BINS];
        at(0) + 2.0 * at(1) + 3.0 * at(2) + 2.0 * at(3) + at(4)
    };
    let best = (0..AXIS_BINS).fold(0, |best, k| if smooth(k) > smooth(best) { k } else { best });
    (best as f64 + 0.5) * PI / AXIS_BINS as f64
}

/// Members of the set about an axis and the set's own mean axis.
fn gather(marks: &[Mark], chosen: &[usize], mut axis: f64) -> (Vec<usize>, f64) {
    let mut members = Vec::new();
    for _ in 0..2 {
        members = chosen
            .iter()
            .copied()
            .filter(|i| turn_between(axis, marks[*i].direction_rad).abs() <= SET_HALF_WIDTH_RAD)
            .collect();
        if members.is_empty() {
            return (members, axis);
        }
        let turn = members.iter().map(|i| turn_between(axis, marks[*i].direction_rad)).sum::<f64>();
        axis = (axis + turn / members.len() as f64).rem_euclid(PI);
    }
    (members, axis)
}

/// Signed turn from one axis to another, radians in `[-π/2, π/2)`.
fn turn_between(from: f64, to: f64) -> f64 {
    (to - from + 0.5 * PI).rem_euclid(PI) - 0.5 * PI
}

fn resultant(marks: &[Mark], factor: f64) -> f64 {
    let (s, c) = marks.iter().fold((0.0, 0.0), |(s, c), m| {
        let (sin, cos) = (factor * m.direction_rad).sin_cos();
        (s + sin, c + cos)
    });
    s.hypot(c) / marks.len() as f64
}

fn weighted_mean(marks: &[Mark], value: impl Fn(&Mark) -> f64) -> f64 {
    let (sum, total) = marks.iter().fold((0.0, 0.0), |(sum, total), m| {
        let w = weight(m);
        (sum + w * value(m), total + w)
    });
    if total > 0.0 { sum / total } else { f64::NAN }
}

fn sorted(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut all: Vec<f64> = values.collect();
    all.sort_by(f64::total_cmp);
    all
}

fn quantile(sorted: &[f64], share: f64) -> f64 {
    if sorted.is_empty() {
        return f64::NAN;
    }
    let place = share * (sorted.len() - 1) as f64;
    let low = place.floor() as usize;
    let high = (low + 1).min(sorted.len() - 1);
    sorted[low] + (place - low as f64) * (sorted[high] - sorted[low])
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.fold((0.0, 0.0), |(sum, n), v| (sum + v, n + 1.0));
    if n > 0.0 { sum / n } else { f64::NAN }
}

fn spread(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let n = values.clone().count() as f64;
    if n < 2.0 {
        return f64::NAN;
    }
    let average = mean(values.clone());
    (values.map(|v| (v - average).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
}

fn slope(pairs: impl Iterator<Item = (f64, f64)> + Clone) -> f64 {
    let (x, y) = (mean(pairs.clone().map(|p| p.0)), mean(pairs.clone().map(|p| p.1)));
    let (xy, xx) = pairs.fold((0.0, 0.0), |(xy, xx), p| (xy + (p.0 - x) * (p.1 - y), xx + (p.0 - x).powi(2)));
    if xx > 0.0 { xy / xx } else { f64::NAN }
}

fn correlation(pairs: impl Iterator<Item = (f64, f64)> + Clone) -> f64 {
    let (x, y) = (mean(pairs.clone().map(|p| p.0)), mean(pairs.clone().map(|p| p.1)));
    let (xy, xx, yy) = pairs.fold((0.0, 0.0, 0.0), |(xy, xx, yy), p| {
        (xy + (p.0 - x) * (p.1 - y), xx + (p.0 - x).powi(2), yy + (p.1 - y).powi(2))
    });
    if xx > 0.0 && yy > 0.0 { xy / (xx * yy).sqrt() } else { f64::NAN }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(x: f64, y: f64, direction_rad: f64, curvature: f64) -> Mark {
        Mark {
            at_mm: [x, y],
            direction_rad,
            curvature_per_mm: curvature,
            curvature_sd_per_mm: 1e-4,
            cubic_um: 0.1,
            residual_um: 0.3,
            length_mm: 2.0,
            width_um: 8.0,
            ends_inside: 0,
            turn_rad: curvature * 2.0,
        }
    }

    #[test]
    fn concentric_arcs_have_a_centre() {
        let marks: Vec<Mark> = (0..30)
            .map(|i| {
                let (x, y) = (f64::from(i % 6) - 2.5, f64::from(i / 6) - 2.0);
                let (dx, dy) = (x - 20.0, y - 5.0);
                mark(x, y, (dy.atan2(dx) + 0.5 * PI).rem_euclid(PI), 1.0 / dx.hypot(dy))
            })
            .collect();
        let o = field_observables(&marks, 6.0, 0.002);
        assert!((o[36].exp() - 20.0_f64.hypot(5.0)).abs() < 0.5, "{}", o[36].exp());
        assert!(o[37] < -2.0 && o[38].abs() < 0.1, "{} {}", o[37], o[38]);
    }

    #[test]
    fn two_sets_cross() {
        let marks: Vec<Mark> =
            (0..20).map(|i| mark(f64::from(i), 0.0, if i % 2 == 0 { 0.05 } else { 0.75 }, 1e-5)).collect();
        let o = field_observables(&marks, 30.0, 0.01);
        assert!((o[6] - 0.7_f64.to_degrees()).abs() < 1.0, "{}", o[6]);
        assert!((o[3] - 0.5).abs() < 1e-9 && (o[5] - 0.5).abs() < 1e-9);
    }

    #[test]
    fn every_observable_has_a_name_and_its_slot() {
        let geometry = Geometry::equal(2, 2, 6.0, 2592.0);
        let marks: Vec<Mark> = (0..20).map(|i| mark(f64::from(i) * 0.2 - 2.0, 0.0, 0.3, 0.01)).collect();
        let row = observe(&[marks.clone(), marks], &geometry);
        assert_eq!(row.len(), N_OBSERVABLES);
        assert!((0..N_OBSERVABLES).all(|index| !name(index).is_empty()));
    }
}
