//! Stroke length from lengths the field cuts off.

use super::Figure;
use super::plot::{Axis, Plot};
use super::svg::{Anchor, Ink, Pen, SMALL};
use crate::dossier::{Step, StrokeLength};
use crate::words;

/// Share of traces longer than a length (Kaplan–Meier, cut-off lengths counted as censored) with its 95 % band, and the
/// mean stroke length of the window estimator beside it.
#[must_use]
pub fn stroke_length(heading: &str, stroke_length: &StrokeLength) -> Figure {
    let title = format!("Stroke length, {heading}");
    let steps: Vec<Step> =
        stroke_length.curve.iter().copied().filter(|step| step.length.is_finite()).collect();
    let falls = steps.iter().any(|step| step.share.value < 1.0);
    let Some(last) = steps.last().filter(|_| falls) else {
        let why = stroke_length.note.clone().unwrap_or_else(|| "no trace has an end inside the field".into());
        return super::empty(&title, &words::sentence(&why));
    };
    let unit = stroke_length.unit.symbol();
    let shown_mean = stroke_length.mean.filter(|mean| mean.value.is_finite());
    let longest = shown_mean.map_or(last.length, |mean| last.length.max(mean.value.min(4.0 * last.length)));
    let x_axis = Axis::round(0.0, longest * 1.02, 4, format!("length ({unit})"));
    let y_ticks = (0..=4).map(|index| (f64::from(index) * 0.25, format!("{} %", index * 25))).collect();
    let mut plot = Plot::panel(x_axis, Axis::with_ticks(0.0, 1.0, y_ticks, "share longer than this"), 0.0);
    plot.axes();
    draw_band(&mut plot, &steps);
    draw_curve(&mut plot, &steps);
    if let Some(mean) = shown_mean {
        let (top, bottom) =
            (plot.at(mean.value.min(plot.x.high), 1.0), plot.at(mean.value.min(plot.x.high), 0.0));
        plot.canvas.line(top, bottom, Pen::dashed(Ink::Second, 1.4));
        let (low, high) = (mean.low.clamp(0.0, plot.x.high), mean.high.clamp(0.0, plot.x.high));
        let bar = [plot.at(low, 0.06), plot.at(high, 0.06)];
        plot.canvas.line(bar[0], bar[1], Pen::solid(Ink::Second, 3.0));
        let room_right = top[0] < plot.right_edge() - 70.0;
        let (x, anchor) =
            if room_right { (top[0] + 5.0, Anchor::Start) } else { (top[0] - 5.0, Anchor::End) };
        plot.canvas.text_in([x, top[1] + 13.0], anchor, SMALL, Ink::Second, "mean stroke");
    }
    let ends = stroke_length.ends;
    let note =
        format!("ends inside: two {}, one {}, none {}", ends.both_inside, ends.one_inside, ends.none_inside);
    plot.heading(&title, &note);
    plot.finish(title, describe(stroke_length, &steps))
}

/// Corners of a step function through one of the three values of each step.
fn corners(plot: &Plot, steps: &[Step], value: impl Fn(&Step) -> f64) -> Vec<[f64; 2]> {
    let mut corners = Vec::with_capacity(2 * steps.len());
    let mut share = 1.0;
    for step in steps {
        corners.push(plot.at(step.length, share));
        share = value(step).clamp(0.0, 1.0);
        corners.push(plot.at(step.length, share));
    }
    corners
}

fn draw_band(plot: &mut Plot, steps: &[Step]) {
    let mut outline = corners(plot, steps, |step| step.share.high);
    let mut lower = corners(plot, steps, |step| step.share.low);
    lower.reverse();
    outline.append(&mut lower);
    plot.canvas.area(&outline, Ink::Wash);
}

fn draw_curve(plot: &mut Plot, steps: &[Step]) {
    let curve = corners(plot, steps, |step| step.share.value);
    plot.canvas.polyline(&curve, Pen::solid(Ink::First, 1.8));
}

fn describe(stroke_length: &StrokeLength, steps: &[Step]) -> String {
    let unit = stroke_length.unit.symbol();
    let half = steps.iter().find(|step| step.share.value <= 0.5).map(|step| step.length);
    let median = match half {
        Some(length) => {
            format!("Half of the traces are longer than {} {unit}.", words::significant(length, 3))
        }
        None => "The curve does not fall to one half: the field is too small for a median.".to_owned(),
    };
    let mean = match stroke_length.mean {
        Some(mean) => {
            format!(" Mean stroke length {} by the {}.", words::interval(mean, unit), stroke_length.estimator)
        }
        None => " No mean stroke length.".to_owned(),
    };
    let ends = stroke_length.ends;
    format!(
        "Kaplan–Meier curve of {} with its 95 % band; {} have both ends inside the field, {} one, {} none. {median}{mean}",
        words::count(ends.total(), "trace"),
        ends.both_inside,
        ends.one_inside,
        ends.none_inside
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dossier::{Ends, Estimate, LengthUnit};

    /// The survival curve of the reference sheet's case `km.gehan_6mp` (Gehan 1965, 21 patients, 9 events).
    fn gehan() -> StrokeLength {
        let curve = [(0.0, 1.0), (6.0, 0.857_143), (7.0, 0.806_723), (10.0, 0.752_941), (13.0, 0.690_196)]
            .into_iter()
            .chain([(16.0, 0.627_451), (22.0, 0.537_815), (23.0, 0.448_179)])
            .map(|(length, value)| Step {
                length,
                share: Estimate { value, low: value - 0.2, high: value + 0.2 },
            })
            .collect();
        StrokeLength {
            unit: LengthUnit::Millimetres,
            mean: Some(Estimate { value: 17.1, low: 10.0, high: 30.0 }),
            estimator: "window ratio estimator".into(),
            ends: Ends { none_inside: 4, one_inside: 8, both_inside: 9 },
            curve,
            note: None,
        }
    }

    #[test]
    fn the_median_of_a_published_curve_is_read_off() {
        let figure = stroke_length("A", &gehan());
        assert!(figure.description.contains("longer than 23.0 mm"), "{}", figure.description);
        assert!(figure.svg("s").contains("ends inside: two 9, one 8, none 4"));
    }

    #[test]
    fn an_empty_curve_says_why() {
        let empty = StrokeLength { curve: vec![], mean: None, note: Some("no end inside".into()), ..gehan() };
        assert!(stroke_length("A", &empty).description.contains("No end inside."));
        let flat = Step { length: 3.0, share: Estimate { value: 1.0, low: 1.0, high: 1.0 } };
        let never_falls = StrokeLength { curve: vec![flat], ..empty };
        assert!(stroke_length("A", &never_falls).description.contains("No end inside."));
    }
}
