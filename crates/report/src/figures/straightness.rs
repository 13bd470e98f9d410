//! Bow of each trace against its length, with the zone that cannot be told from straight.

use super::Figure;
use super::plot::{Axis, Plot};
use super::svg::{Anchor, Ink, Pen, SMALL};
use crate::dossier::{BowSample, LengthUnit, Straightness, StraightnessVerdict};
use crate::words;

/// Most traces drawn, longest first: they carry the bow.
const DRAWN_AT_MOST: usize = 2000;

/// Traces up to which each gets its 95 % bar; with more, bars hide the dots.
const BARS_AT_MOST: usize = 80;

/// Curvature of each trace over its visible length. Grey: radii above the reach, which these pictures cannot tell from straight.
#[must_use]
pub fn straightness(heading: &str, straightness: &Straightness) -> Figure {
    let title = format!("Bow of the traces, {heading}");
    let mut samples: Vec<BowSample> = straightness
        .samples
        .iter()
        .copied()
        .filter(|sample| {
            sample.length.is_finite() && sample.curvature.value.is_finite() && sample.curvature.u.is_finite()
        })
        .collect();
    if samples.is_empty() {
        return super::empty(&title, "no counted trace has a curvature.");
    }
    samples.sort_by(|a, b| b.length.total_cmp(&a.length));
    let total = samples.len();
    samples.truncate(DRAWN_AT_MOST);
    let limit = shown_limit(&samples, straightness.reach);
    let outside = samples.iter().filter(|sample| sample.curvature.value.abs() > limit).count();
    let unit = straightness.unit.symbol();
    let longest = samples.first().map_or(1.0, |sample| sample.length);
    let y_axis = curvature_axis(limit, straightness.unit);
    let mut plot = Plot::panel(
        Axis::round(0.0, longest, 4, format!("visible length of the trace ({unit})")),
        y_axis,
        0.0,
    );
    if let Some(reach) = straightness.reach.filter(|reach| *reach > 0.0) {
        plot.zone_y(-1.0 / reach, 1.0 / reach);
    }
    plot.axes();
    let zero = [plot.at(plot.x.low, 0.0), plot.at(plot.x.high, 0.0)];
    plot.canvas.line(zero[0], zero[1], Pen::dashed(Ink::Mid, 0.8));
    draw_samples(&mut plot, &samples);
    draw_typical(&mut plot, straightness);
    plot.heading(&title, &note(straightness, total, samples.len(), outside));
    plot.finish(title, describe(straightness, total, outside))
}

/// The axis of curvatures, in thousandths or millionths where plain numbers would be long.
fn curvature_axis(limit: f64, unit: LengthUnit) -> Axis {
    let (factor, power) = match limit {
        limit if limit >= 0.02 => (1.0, ""),
        limit if limit >= 2e-5 => (1e3, "10⁻³ "),
        _ => (1e6, "10⁻⁶ "),
    };
    let label = format!("curvature ({power}{})", words::per(unit));
    let scaled = Axis::round(-limit * factor, limit * factor, 4, label);
    Axis {
        low: scaled.low / factor,
        high: scaled.high / factor,
        ticks: scaled.ticks.into_iter().map(|(value, label)| (value / factor, label)).collect(),
        ..scaled
    }
}

/// Height of the scale: four times the middle size, which holds 99 in 100 of a normal law however far single traces lie out,
/// and always the zone of the reach.
fn shown_limit(samples: &[BowSample], reach: Option<f64>) -> f64 {
    let mut sizes: Vec<f64> =
        samples.iter().map(|sample| sample.curvature.value.abs() + sample.curvature.u).collect();
    sizes.sort_by(f64::total_cmp);
    let middle = sizes.get(sizes.len() / 2).copied().unwrap_or(0.0);
    let zone = reach.filter(|reach| *reach > 0.0).map_or(0.0, |reach| 1.6 / reach);
    let limit = (4.0 * middle).max(zone);
    if limit > 0.0 { limit } else { 1.0 }
}

fn draw_samples(plot: &mut Plot, samples: &[BowSample]) {
    let radius = match samples.len() {
        0..=80 => 2.6,
        81..=400 => 1.8,
        _ => 1.1,
    };
    for sample in samples {
        let curvature = sample.curvature;
        if curvature.value.abs() > plot.y.high {
            let edge = plot.at(sample.length, plot.within_y(curvature.value));
            let inward = if curvature.value > 0.0 { 5.0 } else { -5.0 };
            plot.canvas.area(
                &[edge, [edge[0] - 2.5, edge[1] + inward], [edge[0] + 2.5, edge[1] + inward]],
                Ink::Second,
            );
            continue;
        }
        if samples.len() <= BARS_AT_MOST {
            let half = curvature.half_width_95();
            let (low, high) = (plot.within_y(curvature.value - half), plot.within_y(curvature.value + half));
            let bar = [plot.at(sample.length, low), plot.at(sample.length, high)];
            plot.canvas.line(bar[0], bar[1], Pen::solid(Ink::Mid, 0.6));
        }
        let at = plot.at(sample.length, curvature.value);
        plot.canvas.dot(at, radius, Ink::First);
    }
}

/// The typical bow to either side, each with its 95 % interval.
fn draw_typical(plot: &mut Plot, straightness: &Straightness) {
    let Some(bow) = straightness.typical.filter(|bow| bow.value <= plot.y.high) else { return };
    let x = plot.right_edge() - 6.0;
    for side in [1.0, -1.0] {
        let y = |value: f64| plot.at(plot.x.low, plot.within_y(side * value))[1];
        let (from, to, at) = (y(bow.low), y(bow.high), y(bow.value));
        plot.canvas.line([x, from], [x, to], Pen::solid(Ink::Second, 3.0));
        plot.canvas.line([x - 7.0, at], [x + 5.0, at], Pen::solid(Ink::Second, 2.0));
        if side > 0.0 {
            plot.canvas.text_in([x - 9.0, at - 4.0], Anchor::End, SMALL, Ink::Second, "typical");
        }
    }
}

fn note(straightness: &Straightness, total: usize, drawn: usize, outside: usize) -> String {
    let mut parts = vec![match straightness.reach {
        Some(reach) => format!("grey: R > {} {}", words::significant(reach, 2), straightness.unit.symbol()),
        None => "reach not known".to_owned(),
    }];
    if drawn < total {
        parts.push(format!("{drawn} longest of {total}"));
    } else {
        parts.push(words::count(total, "trace"));
    }
    if outside > 0 {
        parts.push(format!("{outside} off the scale"));
    }
    parts.join("; ")
}

fn describe(straightness: &Straightness, total: usize, outside: usize) -> String {
    let unit = straightness.unit.symbol();
    let reach = match (straightness.reach, &straightness.limited_by) {
        (Some(reach), Some(limit)) => {
            format!(
                "Radii above {} {unit} cannot be told from straight, limited by {limit}.",
                words::significant(reach, 2)
            )
        }
        (Some(reach), None) => {
            format!("Radii above {} {unit} cannot be told from straight.", words::significant(reach, 2))
        }
        (None, _) => "The reach is not known.".to_owned(),
    };
    let typical = straightness
        .typical
        .map(|bow| {
            let bow = words::with_unit(&words::bracketed(bow), words::per(straightness.unit));
            format!(" Half of the traces are bowed less than {bow}.")
        })
        .unwrap_or_default();
    let verdict = match straightness.verdict() {
        StraightnessVerdict::Bowed => " The traces are bowed beyond what noise, waviness and lens explain.",
        StraightnessVerdict::NotToldFromStraight => " The traces cannot be told from straight.",
        StraightnessVerdict::CannotTell => " Nothing can be said about straightness.",
    };
    let beyond = if outside > 0 {
        format!(" {outside} lie beyond the scale and are marked by triangles.")
    } else {
        String::new()
    };
    format!(
        "Signed curvature of {} over visible length. {reach}{typical}{verdict}{beyond}",
        words::count(total, "trace")
    )
}

#[cfg(test)]
mod tests {
    use quantity::Measured;

    use super::*;
    use crate::dossier::Estimate;

    fn of(count: usize, reach: Option<f64>) -> Straightness {
        let samples = (0..count)
            .map(|index| BowSample {
                length: 1.0 + index as f64 * 0.01,
                curvature: Measured { value: if index % 7 == 0 { 0.02 } else { 0.004 }, u: 0.002 },
            })
            .collect();
        Straightness {
            samples,
            unit: LengthUnit::Millimetres,
            reach,
            limited_by: Some("lens".into()),
            middle: Some(Estimate { value: 0.005, low: 0.003, high: 0.007 }),
            typical: Some(Estimate { value: 0.005, low: 0.004, high: 0.007 }),
        }
    }

    #[test]
    fn the_grey_zone_is_the_reach() {
        let straightness = of(50, Some(100.0));
        let svg = super::straightness("A", &straightness).svg("s");
        let zone = svg.split("f-wash-f").next().unwrap().rsplit("height=\"").next().unwrap();
        let zone_height: f64 = zone.split('"').next().unwrap().parse().unwrap();
        let limit = shown_limit(&straightness.samples, Some(100.0));
        let axis = curvature_axis(limit, LengthUnit::Millimetres);
        let wanted = 0.02 / (axis.high - axis.low) * (228.0 - 34.0 - 44.0);
        assert!((zone_height - wanted).abs() < 0.02, "{zone_height} against {wanted}");
    }

    #[test]
    fn none_one_and_ten_thousand() {
        assert!(super::straightness("A", &of(0, None)).description.starts_with("Nothing is drawn"));
        assert!(super::straightness("A", &of(1, None)).svg("s").contains("reach not known; 1 trace"));
        let svg = super::straightness("A", &of(10_000, Some(100.0))).svg("s");
        assert!(svg.contains("2000 longest of 10000") && svg.len() < 250_000, "{}", svg.len());
    }
}
