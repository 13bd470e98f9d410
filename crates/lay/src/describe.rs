//! Everything the traces of one capture, one station or one object say, in one description.

use quantity::{AxialDeg, Measured};

use crate::cluster::{self, Spread};
use crate::curvature::{self, Straightness};
use crate::field::{Field, Item, Unit};
use crate::patches;
use crate::sets::{self, Sets, SetsOptions};
use crate::spacing::{self, Regularity};
use crate::stroke::{self, Seen, StrokeLength};
use crate::width::{self, Widths};
use crate::{Answer, CannotTell, Estimate, axial, coverage_factor_95, uniform, window};

/// What a trace counts for when directions are summed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Weighting {
    /// Every trace once.
    #[default]
    Count,
    /// Every trace by its visible length.
    Length,
}

/// How to describe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DescribeOptions {
    /// Seed of the simulations behind the spacing tests.
    pub seed: u64,
    /// Number of simulations.
    pub resamples: usize,
    /// What a trace counts for in the sets and the resultant.
    pub weighting: Weighting,
    /// How sets are sought.
    pub sets: SetsOptions,
}

impl Default for DescribeOptions {
    fn default() -> Self {
        Self { seed: 1, resamples: 999, weighting: Weighting::default(), sets: SetsOptions::default() }
    }
}

/// What the traces say. Lengths are in `unit`, curvatures in 1/`unit`.
#[derive(Debug, Clone, PartialEq)]
pub struct Description {
    /// Traces.
    pub count: usize,
    /// Of these, traces in patches of parallel lines: more likely the stone's, they take part in no direction, length or
    /// spacing.
    pub in_patches: usize,
    /// Captures, those without a trace included.
    pub captures: usize,
    /// Stations.
    pub stations: usize,
    /// Unit of every length and curvature below.
    pub unit: Unit,
    /// Surface looked at by the captures that lengths and spacings rest on, square `unit`.
    pub area: f64,
    /// Traces met per square millimetre; `None` without a scale.
    pub density_per_mm2: Option<f64>,
    /// Visible length per area, mm/mm² (P21); `None` without a scale.
    pub intensity_per_mm: Option<f64>,
    /// Stroke centres per area, 1/unit² (P20), from the ends inside.
    pub centres_per_area: Option<f64>,
    /// What a trace counted for in the resultant and the sets.
    pub weighting: Weighting,
    /// Resultant length of the doubled directions: 1 all parallel, 0 no single preference.
    pub resultant: Option<f64>,
    /// Watson's test of an even spread of directions: probability of one at least so uneven by chance. Takes the traces
    /// for independent.
    pub uniform_p: Option<f64>,
    /// The sets of parallel traces.
    pub sets: Sets,
    /// Bow of the traces.
    pub straightness: Answer<Straightness>,
    /// Stroke length beyond what the fields show.
    pub stroke_length: Answer<StrokeLength>,
    /// Spacing, one entry per set, in their order.
    pub spacing: Vec<Spacing>,
    /// Widths.
    pub widths: Answer<Widths>,
    /// What was left out and why, in sentences.
    pub notes: Vec<String>,
}

impl Description {
    /// Crossing angle of the two strongest sets, degrees; `None` with fewer than two sets.
    #[must_use]
    pub fn crossing_deg(&self) -> Option<Measured> {
        self.sets.crossing.as_ref().ok().map(|crossing| crossing.measured())
    }
}

/// Spacing of the traces of one set along its normal.
#[derive(Debug, Clone, PartialEq)]
pub struct Spacing {
    /// Traces of the set.
    pub count: usize,
    /// Mean spacing: area over the length of the traces along the set. No edge of the field biases it.
    pub mean: Answer<Estimate>,
    /// The spacings against lines strewn at random.
    pub regularity: Answer<Regularity>,
}

/// Describes the traces of `fields`, taken together.
///
/// Fields without a scale are left out of everything in lengths as soon as one field has a scale, and a note says so;
/// their directions count in any case.
#[must_use]
pub fn describe(fields: &[Field], options: &DescribeOptions) -> Description {
    let usable: Vec<&Field> = fields.iter().filter(|field| field.is_usable()).collect();
    let scaled = usable.iter().filter(|field| field.um_per_px.is_some()).count();
    let unit = if scaled > 0 { Unit::Millimetre } else { Unit::Pixel };
    let mut notes = Vec::new();
    if scaled > 0 && scaled < usable.len() {
        notes.push(format!(
            "{} of {} captures have no scale; they count for directions only.",
            usable.len() - scaled,
            usable.len()
        ));
    }
    if usable.len() < fields.len() {
        notes.push(format!("{} captures without a size were left out.", fields.len() - usable.len()));
    }
    let everything = Gathered::new(&usable);
    if everything.in_patches > 0 {
        notes.push(format!(
            "{} short traces lie in patches of parallel lines, as lamellae of single crystals do; they count for no \
             direction, bow, length or spacing.",
            everything.in_patches
        ));
    }
    let weights = everything.weights(options.weighting);
    let moments = axial::moments(&everything.axes, &weights);
    let sets = sets::fit(&everything.axes, &weights, &everything.clusters, options.sets);
    notes.extend(seen_once(&sets, &everything));
    let measured: Vec<(usize, &Field)> = usable
        .iter()
        .enumerate()
        .filter(|(_, field)| field.unit_per_px(unit).is_some())
        .map(|(index, field)| (index, *field))
        .collect();
    let wide = of_widest_scale(&measured, unit, &mut notes);
    let area: f64 = wide.iter().map(|(_, field)| area_of(field, unit)).sum();
    let inside: Vec<(usize, &Field, &Item)> = measured
        .iter()
        .flat_map(|&(index, field)| field.items.iter().map(move |item| (index, field, item)))
        .collect();
    let directed: Vec<(&Field, &Item)> = measured
        .iter()
        .flat_map(|&(index, field)| everything.kept(index, field).map(move |(_, item)| (field, item)))
        .collect();
    let seen = seen(&wide, unit, &everything);
    let visible: f64 = seen.iter().map(|s| s.length).sum();
    let ends: f64 = seen.iter().map(|s| f64::from(s.ends_inside)).sum();
    let scale_u = scale_relative_u(&measured);
    let in_mm = |value: f64| (unit == Unit::Millimetre && area > 0.0).then_some(value);
    Description {
        count: usable.iter().map(|field| field.items.len()).sum(),
        in_patches: everything.in_patches,
        captures: usable.len(),
        stations: cluster::distinct(&usable.iter().map(|field| field.station).collect::<Vec<_>>()),
        unit,
        area,
        density_per_mm2: in_mm(seen.len() as f64 / area),
        intensity_per_mm: in_mm(window::intensity_p21(visible, area)),
        centres_per_area: (area > 0.0).then(|| ends / (2.0 * area)),
        weighting: options.weighting,
        resultant: moments.map(|m| m.resultant),
        uniform_p: uniform::watson(&axial::doubled_rad(&everything.axes)).map(|test| test.p),
        straightness: straightness(&directed, main_axis(&sets, &everything, &weights), unit),
        stroke_length: stroke::stroke_length(&seen, area, scale_u),
        spacing: (0..sets.sets.len())
            .map(|set| spacing_of(set, &sets, &wide, unit, &everything, options))
            .collect(),
        widths: width::widths(&widths_of(&inside, unit)).map(|widths| widths.with_scale(scale_u)),
        sets,
        notes,
    }
}

/// Which sets rest on one capture (or station) of several, in a sentence.
fn seen_once(sets: &Sets, everything: &Gathered) -> Option<String> {
    let clusters = cluster::distinct(&everything.field_clusters);
    let alone: Vec<String> = sets
        .sets
        .iter()
        .filter(|set| clusters > 1 && set.clusters < 2)
        .map(|set| format!("{:.0}°", set.direction.degrees()))
        .collect();
    let which = if everything.by_station { "station" } else { "capture" };
    (!alone.is_empty()).then(|| {
        format!(
            "Nearly all traces of the {} at {} lie on one {which} of {clusters}: how the direction differs from {which} \
             to {which} cannot be told from one.",
            if alone.len() == 1 { "set" } else { "sets" },
            alone.join(" and ")
        )
    })
}

/// Fields whose scales differ by less than this factor see marks of about the same fineness (ours).
const SAME_SCALE: f64 = 1.5;

/// Of the fields with a scale, those of the coarsest one: density, stroke length and spacing depend on how fine a mark can
/// be seen and how far it can be followed, so fields of another scale are no further witnesses of the same quantity.
fn of_widest_scale<'a>(
    measured: &[(usize, &'a Field)],
    unit: Unit,
    notes: &mut Vec<String>,
) -> Vec<(usize, &'a Field)> {
    let coarsest = measured.iter().map(|(_, field)| factor(field, unit)).fold(0.0, f64::max);
    let wide: Vec<(usize, &Field)> =
        measured.iter().copied().filter(|(_, field)| factor(field, unit) * SAME_SCALE > coarsest).collect();
    if wide.len() < measured.len() {
        notes.push(format!(
            "Density, stroke length and spacing are taken from the {} captures of the widest scale; finer fields ({}) \
             show other marks over a shorter way.",
            wide.len(),
            measured.len() - wide.len()
        ));
    }
    wide
}

/// The traces that directions rest on in one row, with the cluster of each.
struct Gathered {
    axes: Vec<AxialDeg>,
    lengths_px: Vec<f64>,
    /// Cluster of every trace.
    clusters: Vec<usize>,
    /// Cluster of every field.
    field_clusters: Vec<usize>,
    /// For every item of every field: whether it lies in a patch of parallel lines and is left out.
    left_out: Vec<Vec<bool>>,
    /// How many do.
    in_patches: usize,
    /// Whether clusters are stations.
    by_station: bool,
}

impl Gathered {
    fn new(fields: &[&Field]) -> Self {
        let captures: Vec<usize> = (0..fields.len()).collect();
        let stations: Vec<usize> = fields.iter().map(|field| field.station).collect();
        let field_clusters = cluster::clusters(&captures, &stations);
        let by_station = field_clusters == stations && stations.len() > cluster::distinct(&stations);
        let left_out: Vec<Vec<bool>> = fields.iter().map(|field| patches::in_patches(field)).collect();
        let in_patches = left_out.iter().flatten().filter(|out| **out).count();
        let (axes, lengths_px, clusters) = (Vec::new(), Vec::new(), Vec::new());
        let mut all = Self { axes, lengths_px, clusters, field_clusters, left_out, in_patches, by_station };
        for (index, (field, cluster)) in fields.iter().zip(all.field_clusters.clone()).enumerate() {
            let kept: Vec<Item> = all.kept(index, field).map(|(_, item)| *item).collect();
            all.axes.extend(kept.iter().map(|item| item.direction));
            all.lengths_px.extend(kept.iter().map(|item| item.length_px));
            all.clusters.extend(vec![cluster; kept.len()]);
        }
        all
    }

    fn weights(&self, weighting: Weighting) -> Vec<f64> {
        match weighting {
            Weighting::Count => Vec::new(),
            Weighting::Length => self
                .lengths_px
                .iter()
                .map(|length| if length.is_finite() { length.max(0.0) } else { 0.0 })
                .collect(),
        }
    }

    /// The items of a field (the `index`-th of all) that are not left out, with their numbers.
    fn kept<'a>(&'a self, index: usize, field: &'a Field) -> impl Iterator<Item = (usize, &'a Item)> {
        let out = self.left_out.get(index);
        let is_out = move |number: usize| out.is_some_and(|out| out.get(number).copied().unwrap_or(false));
        field.items.iter().enumerate().filter(move |(number, _)| !is_out(*number))
    }

    fn cluster_of_field(&self, index: usize) -> usize {
        self.field_clusters.get(index).copied().unwrap_or(index)
    }
}

/// Relative standard uncertainty of the scale: the largest of the fields', for one instrument's scale is wrong the same way
/// in all of them.
fn scale_relative_u(measured: &[(usize, &Field)]) -> f64 {
    measured
        .iter()
        .filter_map(|(_, field)| field.um_per_px)
        .map(|scale| scale.u() / scale.value())
        .fold(0.0, f64::max)
}

fn widths_of(inside: &[(usize, &Field, &Item)], unit: Unit) -> Vec<Measured> {
    inside.iter().map(|(_, field, item)| item.width_px.scaled(factor(field, unit))).collect()
}

fn factor(field: &Field, unit: Unit) -> f64 {
    // Only fields that have the unit come here.
    field.unit_per_px(unit).unwrap_or(1.0)
}

fn area_of(field: &Field, unit: Unit) -> f64 {
    field.width_px * field.height_px * factor(field, unit).powi(2)
}

fn seen(wide: &[(usize, &Field)], unit: Unit, all: &Gathered) -> Vec<Seen> {
    wide.iter()
        .flat_map(|&(index, field)| all.kept(index, field).map(move |(_, item)| (index, field, item)))
        .filter(|(_, _, item)| item.length_px.is_finite() && item.length_px > 0.0)
        .map(|(index, field, item)| {
            let scale = factor(field, unit);
            Seen {
                length: item.length_px * scale,
                ends_inside: item.ends_inside.min(2),
                breadth: window::breadth(field.width_px, field.height_px, item.direction.degrees()) * scale,
                cluster: all.cluster_of_field(index),
            }
        })
        .collect()
}

/// The direction that says which way round all traces are walked when their curvatures are taken together.
fn main_axis(sets: &Sets, all: &Gathered, weights: &[f64]) -> Option<AxialDeg> {
    sets.sets.first().map(|set| set.direction).or_else(|| axial::mean(&all.axes, weights))
}

fn straightness(directed: &[(&Field, &Item)], main: Option<AxialDeg>, unit: Unit) -> Answer<Straightness> {
    let curvatures: Vec<Measured> = directed
        .iter()
        .map(|(field, item)| {
            let curvature = item.curvature_per_px.scaled(1.0 / factor(field, unit));
            if main.is_some_and(|main| walked_back(item.direction, main)) {
                Measured { value: -curvature.value, ..curvature }
            } else {
                curvature
            }
        })
        .collect();
    let values: Vec<f64> = curvatures.iter().map(|c| c.value).collect();
    let u: Vec<f64> = curvatures.iter().map(|c| c.u).collect();
    curvature::straightness(&values, &u)
}

/// Whether walking `axis` along increasing x goes against walking `main` so: without this, one arc of a lay about the
/// vertical would bend to the left and the next to the right.
fn walked_back(axis: AxialDeg, main: AxialDeg) -> bool {
    let heading = |axis: AxialDeg| {
        let (sin, cos) = axis.degrees().to_radians().sin_cos();
        if cos < 0.0 { [-cos, -sin] } else { [cos, sin] }
    };
    let (a, b) = (heading(axis), heading(main));
    a[0] * b[0] + a[1] * b[1] < 0.0
}

fn spacing_of(
    set: usize,
    sets: &Sets,
    measured: &[(usize, &Field)],
    unit: Unit,
    all: &Gathered,
    options: &DescribeOptions,
) -> Spacing {
    let Some(axis) = sets.sets.get(set).map(|set| set.direction) else {
        let none = CannotTell::TooFew { what: "sets", found: 0, needed: 1 };
        return Spacing { count: 0, mean: Err(none.clone()), regularity: Err(none) };
    };
    let mut transects = Vec::new();
    let (mut area, mut lengths, mut clusters, mut widths) = (0.0, Vec::new(), Vec::new(), Vec::new());
    for &(index, field) in measured {
        let scale = factor(field, unit);
        let members: Vec<usize> = all
            .kept(index, field)
            .filter(|(_, item)| sets.member_of(item.direction) == Some(set))
            .map(|(number, _)| number)
            .collect();
        area += area_of(field, unit);
        for item in members.iter().filter_map(|&i| field.items.get(i)) {
            lengths.push(item.length_px * scale * item.direction.angle_to(axis).to_radians().cos());
            widths.push(item.width_px.value * scale);
            clusters.push(all.cluster_of_field(index));
        }
        let lines = field.transects(axis, &members);
        transects.extend(
            lines
                .into_iter()
                .map(|line| line.into_iter().map(|position| position * scale).collect::<Vec<_>>()),
        );
    }
    widths.retain(|width| width.is_finite());
    widths.sort_by(f64::total_cmp);
    // Two grooves whose middles are closer than one width are one groove to any eye.
    let limit = width::quantile(&widths, 0.5).max(0.0);
    let regularity =
        spacing::regularity(&transects, limit, options.resamples, options.seed.wrapping_add(set as u64));
    let dispersion = regularity
        .as_ref()
        .map_or(1.0, |r| if r.pattern == spacing::Pattern::Random { 1.0 } else { r.gaps.variation.powi(2) });
    let mean = mean_spacing(area, &lengths, &clusters, dispersion)
        .map(|mean| mean.with_scale(scale_relative_u(measured)));
    Spacing { count: lengths.len(), mean, regularity }
}

/// Mean spacing: area over total length along the set. Its scatter is that of strewn lines times `dispersion`, or that
/// between captures where three or more show a larger one.
fn mean_spacing(area: f64, lengths: &[f64], clusters: &[usize], dispersion: f64) -> Answer<Estimate> {
    let total: f64 = lengths.iter().sum();
    if lengths.len() < 2 || total.is_nan() || total <= 0.0 {
        return Err(CannotTell::TooFew { what: "traces of this set", found: lengths.len(), needed: 2 });
    }
    let effective = total * total / lengths.iter().map(|length| length * length).sum::<f64>();
    let strewn = (dispersion / effective).sqrt();
    // What each capture has beyond an equal part, as a share of the whole.
    let captures = cluster::distinct(clusters);
    let between = if captures >= 3 {
        cluster::relative_scatter(lengths, clusters)
    } else {
        Spread { u: 0.0, degrees: f64::INFINITY }
    };
    let (u, widening) = if between.u > strewn {
        (between.u, between.factor() / coverage_factor_95(f64::INFINITY))
    } else {
        (strewn, 1.0)
    };
    let evidence = 1.0 / (u * widening).powi(2);
    if evidence < stroke::LEAST_EVIDENCE {
        return Err(CannotTell::Open { why: "there are too few traces, or the captures differ too much" });
    }
    let (low, high) = spacing::relative_interval(evidence);
    let value = area / total;
    Ok(Estimate { value, u: value * u, low: value * low, high: value * high })
}
