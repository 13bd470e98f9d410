//! How wide the traces are.

use super::Figure;
use super::plot::{Axis, Plot, round_near};
use super::svg::{Anchor, Ink, Pen, SMALL};
use crate::dossier::Widths;
use crate::words;

/// Bars of a histogram: fewer hide its shape, more show noise. Common practice, no source.
const BARS: std::ops::RangeInclusive<f64> = 4.0..=30.0;

/// Histogram of widths. Grey: widths the optics would give to anything narrower.
#[must_use]
pub fn widths(heading: &str, widths: &Widths) -> Figure {
    let title = format!("Widths, {heading}");
    let mut values: Vec<f64> =
        widths.values.iter().copied().filter(|width| width.is_finite() && *width >= 0.0).collect();
    values.sort_by(f64::total_cmp);
    let Some(widest) = shown_widest(&values) else {
        return super::empty(&title, "no counted trace has a width.");
    };
    let unit = widths.unit.symbol();
    let bin = bin_width(&values, widest);
    let bins = ((widest / bin).ceil() as usize).max(1);
    let mut counts = vec![0usize; bins];
    let beyond = values.iter().filter(|width| **width > bins as f64 * bin).count();
    for width in values.iter().filter(|width| **width <= bins as f64 * bin) {
        if let Some(count) = counts.get_mut(((width / bin) as usize).min(bins - 1)) {
            *count += 1;
        }
    }
    let fullest = counts.iter().copied().max().unwrap_or(1);
    let x_axis = Axis::round(0.0, bins as f64 * bin, 5, format!("width of the trace ({unit})"));
    let mut plot =
        Plot::panel(x_axis, Axis::round(0.0, (fullest as f64 * 1.05).max(4.0), 4, "number of traces"), 0.0);
    if let Some(resolution) = widths.resolution.filter(|resolution| *resolution > 0.0) {
        plot.zone_x(0.0, resolution);
    }
    plot.axes();
    for (index, count) in counts.iter().enumerate().filter(|(_, count)| **count > 0) {
        let (low, high) =
            (plot.at(index as f64 * bin, *count as f64), plot.at((index + 1) as f64 * bin, 0.0));
        plot.canvas.rectangle(
            [low[0] + 0.5, low[1]],
            [(high[0] - low[0] - 1.0).max(0.5), high[1] - low[1]],
            Ink::First,
        );
    }
    if let Some(median) = widths.median.filter(|median| median.value <= plot.x.high) {
        let (top, bottom) = (plot.at(median.value, plot.y.high), plot.at(median.value, 0.0));
        // Paper under the dashes, so that they show on the bars in grey print too.
        plot.canvas.line(top, bottom, Pen::solid(Ink::Paper, 3.0));
        plot.canvas.line(top, bottom, Pen::dashed(Ink::Second, 1.6));
        let (x, anchor) = if top[0] < plot.right_edge() - 60.0 {
            (top[0] + 5.0, Anchor::Start)
        } else {
            (top[0] - 5.0, Anchor::End)
        };
        plot.canvas.text_in([x, top[1] + 13.0], anchor, SMALL, Ink::Second, "median");
    }
    let cut = if beyond > 0 { format!("; {beyond} wider, not drawn") } else { String::new() };
    let limit = if widths.resolution.is_some() { "; grey: below the optics" } else { "" };
    plot.heading(&title, &format!("{}{limit}{cut}", words::count(values.len(), "trace")));
    plot.finish(title, describe(widths, values.len(), beyond))
}

/// Right end of the scale: all but the widest hundredth, which would squeeze the rest.
fn shown_widest(sorted: &[f64]) -> Option<f64> {
    let index = (sorted.len() * 99).div_ceil(100).checked_sub(1)?;
    sorted.get(index).copied().map(|widest| if widest > 0.0 { widest } else { 1.0 })
}

/// A round bar width near the rule of Freedman and Diaconis (2·IQR·n^(−1/3); from memory, source not seen).
fn bin_width(sorted: &[f64], widest: f64) -> f64 {
    let at = |share: f64| {
        sorted.get((share * (sorted.len().saturating_sub(1)) as f64) as usize).copied().unwrap_or(0.0)
    };
    let rule = 2.0 * (at(0.75) - at(0.25)) / (sorted.len().max(1) as f64).cbrt();
    // With few values, no more than three bars for the root of their number.
    let most = BARS.end().min(3.0 * (sorted.len() as f64).sqrt()).max(*BARS.start());
    let (finest, coarsest) = (widest / most, widest / BARS.start());
    round_near(rule.clamp(finest, coarsest))
}

fn describe(widths: &Widths, count: usize, beyond: usize) -> String {
    let unit = widths.unit.symbol();
    let median =
        widths.median.map(|median| format!(" Median {}.", words::interval(median, unit))).unwrap_or_default();
    let resolution = widths
        .resolution
        .map(|limit| {
            format!(" Anything narrower than {} {unit} would look that wide.", words::significant(limit, 2))
        })
        .unwrap_or_default();
    let cut = if beyond > 0 { format!(" {beyond} wider ones are not drawn.") } else { String::new() };
    format!("Histogram of the widths of {}.{median}{resolution}{cut}", words::count(count, "trace"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dossier::LengthUnit;

    fn of(values: Vec<f64>) -> Widths {
        Widths {
            unit: LengthUnit::Micrometres,
            values,
            median: None,
            resolution: Some(2.0),
            grain_um: None,
            grain_relation: None,
            range_90: None,
        }
    }

    #[test]
    fn every_width_is_in_a_bar_or_said_to_be_left_out() {
        for count in [1usize, 2, 10, 500, 10_000] {
            let values: Vec<f64> = (0..count).map(|index| 3.0 + (index % 97) as f64 * 0.2).collect();
            let mut sorted = values.clone();
            sorted.sort_by(f64::total_cmp);
            let widest = shown_widest(&sorted).unwrap();
            let bars = (widest / bin_width(&sorted, widest)).ceil();
            assert!((1.0..=46.0).contains(&bars), "{count} widths: {bars} bars");
            assert!(widths("A", &of(values)).svg("w").contains(&words::count(count, "trace")));
        }
        assert!(widths("A", &of(vec![])).description.starts_with("Nothing is drawn"));
        assert!(widths("A", &of(vec![0.0])).svg("w").contains("1 trace"));
    }
}
