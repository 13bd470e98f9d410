//! A micrograph with its scale bar, bare or with the traces drawn over it.

use std::fmt::Write as _;

use base64::Engine as _;

use super::Figure;
use super::plot::{HEADING_LETTERS, PANEL_WIDTH, round_below};
use super::svg::{Anchor, Canvas, Ink, Pen, SMALL, TEXT, number, shorten};
use crate::dossier::{Capture, Reading, ShownTrace};
use crate::words;

/// Most traces drawn on one micrograph; more would only be black, and heavy. The figure says when it leaves some out.
pub const DRAWN_AT_MOST: usize = 3000;

/// Widest and finest line, drawing units; the finest is what a good printer still shows.
const WIDEST: f64 = 1.3;
const FINEST: f64 = 0.2;

/// Share of the picture that lines may cover, and at which no more are drawn: beyond it neither the picture nor a line is seen.
const COVER_WANTED: f64 = 0.18;
const COVER_AT_MOST: f64 = 0.6;

/// Tallest picture in a panel, drawing units: a portrait picture is made narrower instead.
const TALLEST: f64 = 226.0;

/// Baseline of the heading, and how wide a letter of it and of the key beside it is at most on average, drawing units.
const HEAD_LINE: f64 = 13.0;
const BOLD_LETTER: f64 = 6.6;
const SMALL_LETTER: f64 = 5.3;
/// Space between heading and key, drawing units.
const KEY_GAP: f64 = 8.0;

/// Distance between points kept on a drawn trace, drawing units: finer is not seen on paper.
const STEP: f64 = 3.0;

/// What lies over the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Overlay {
    /// Nothing: the picture as taken.
    Bare,
    /// The traces over the dimmed picture.
    Traces,
}

/// Colour, dash and relative width of the lines of one reading; all three differ, so that grey print tells them apart.
struct Style {
    /// On the dimmed picture.
    colour: &'static str,
    /// In the key, on the page.
    ink: Ink,
    dash: &'static str,
    width: f64,
}

fn style(reading: Reading) -> Style {
    match reading {
        Reading::Accepted => Style { colour: "#0b2f6b", ink: Ink::First, dash: "", width: 1.0 },
        Reading::Suspect => Style { colour: "#a84f00", ink: Ink::Second, dash: "5 2.5", width: 0.9 },
        Reading::Rejected => Style { colour: "#444", ink: Ink::Mid, dash: "1 2.2", width: 0.9 },
    }
}

/// The micrograph of a capture. Lines: solid accepted, dashed suspect, dotted rejected. The scale bar is true for the drawing;
/// without a scale it is in pixels and says so.
#[must_use]
pub fn micrograph(capture: &Capture, overlay: Overlay) -> Figure {
    let layout = Layout::of(capture);
    let mut canvas = Canvas::default();
    draw_picture(&mut canvas, capture, &layout);
    let drawn = match overlay {
        Overlay::Bare => Drawn::default(),
        Overlay::Traces => {
            canvas.veil(layout.corner(), [layout.width, layout.height], 0.5);
            draw_traces(&mut canvas, capture, &layout)
        }
    };
    canvas.frame(layout.corner(), [layout.width, layout.height], Pen::solid(Ink::Dark, 0.8));
    let bar = ScaleBar::of(capture, layout.units_per_px);
    draw_scale_bar(&mut canvas, &bar, &layout);
    let mut bottom = layout.bottom() + 20.0;
    // The key needs the place beside it.
    let title = match overlay {
        Overlay::Bare => shorten(&heading(capture, overlay), HEADING_LETTERS),
        Overlay::Traces => capture.label.clone(),
    };
    canvas.bold([layout.left, HEAD_LINE], Anchor::Start, TEXT, &title);
    if overlay == Overlay::Traces {
        draw_key(&mut canvas, &drawn, layout.left + title.chars().count() as f64 * BOLD_LETTER + KEY_GAP);
        bottom = draw_remark(&mut canvas, capture, &drawn, &layout, bottom);
    }
    let description = describe(capture, overlay, &drawn, &bar);
    canvas.finish(heading(capture, overlay), description, PANEL_WIDTH, bottom + 4.0)
}

struct Layout {
    left: f64,
    top: f64,
    width: f64,
    height: f64,
    /// Drawing units per picture pixel.
    units_per_px: f64,
}

impl Layout {
    fn of(capture: &Capture) -> Self {
        let (width_px, height_px) = (capture.width_px.max(1) as f64, capture.height_px.max(1) as f64);
        let units_per_px = ((PANEL_WIDTH - 8.0) / width_px).min(TALLEST / height_px);
        Self {
            left: 4.0,
            top: 20.0,
            width: width_px * units_per_px,
            height: height_px * units_per_px,
            units_per_px,
        }
    }

    fn corner(&self) -> [f64; 2] {
        [self.left, self.top]
    }

    fn bottom(&self) -> f64 {
        self.top + self.height
    }
}

fn heading(capture: &Capture, overlay: Overlay) -> String {
    match overlay {
        Overlay::Bare => format!("{}: picture", capture.label),
        Overlay::Traces => format!("{}: traces", capture.label),
    }
}

fn draw_picture(canvas: &mut Canvas, capture: &Capture, layout: &Layout) {
    match &capture.picture {
        Some(image) => {
            let data = base64::engine::general_purpose::STANDARD.encode(&image.bytes);
            canvas.image(layout.corner(), [layout.width, layout.height], image.kind.mime(), &data);
        }
        None => {
            canvas.rectangle(layout.corner(), [layout.width, layout.height], Ink::Wash);
            let middle = [layout.left + layout.width / 2.0, layout.top + layout.height / 2.0];
            canvas.text_in(middle, Anchor::Middle, SMALL, Ink::Mid, "The picture is not in this report.");
        }
    }
}

/// How many traces of each reading there are and how many were drawn.
#[derive(Default)]
struct Drawn {
    of_reading: [usize; 3],
    drawn: usize,
    total: usize,
}

const READINGS: [Reading; 3] = [Reading::Accepted, Reading::Suspect, Reading::Rejected];

fn draw_traces(canvas: &mut Canvas, capture: &Capture, layout: &Layout) -> Drawn {
    let mut longest: Vec<&ShownTrace> = capture.traces.iter().collect();
    longest.sort_by(|a, b| b.trace.length_px.total_cmp(&a.trace.length_px).then(a.trace.id.cmp(&b.trace.id)));
    longest.truncate(DRAWN_AT_MOST);
    let base_width = thin_out(&mut longest, layout);
    canvas.open_window(layout.corner(), [layout.width, layout.height]);
    let mut counts = Drawn { total: capture.traces.len(), drawn: longest.len(), ..Drawn::default() };
    // Rejected first and accepted last, so that what counts lies on top.
    for (index, reading) in READINGS.into_iter().enumerate().rev() {
        if let Some(slot) = counts.of_reading.get_mut(index) {
            *slot = capture.traces.iter().filter(|shown| shown.reading == reading).count();
        }
        let mut data = String::new();
        for shown in longest.iter().filter(|shown| shown.reading == reading) {
            append_trace(&mut data, &shown.trace.points_px, layout.units_per_px);
        }
        if !data.is_empty() {
            let style = style(reading);
            canvas.strokes(&data, style.colour, style.width * base_width, style.dash);
        }
    }
    canvas.close_window();
    counts
}

/// Leaves as many of the longest traces as the picture can bear and returns the width of their lines.
fn thin_out(longest: &mut Vec<&ShownTrace>, layout: &Layout) -> f64 {
    let area = layout.width * layout.height;
    let mut total = 0.0;
    let bearable = longest
        .iter()
        .take_while(|shown| {
            total += shown.trace.length_px.max(0.0) * layout.units_per_px;
            total * FINEST <= COVER_AT_MOST * area
        })
        .count();
    longest.truncate(bearable.max(1));
    let drawn: f64 = longest.iter().map(|shown| shown.trace.length_px.max(0.0) * layout.units_per_px).sum();
    if drawn > 0.0 { (COVER_WANTED * area / drawn).clamp(FINEST, WIDEST) } else { WIDEST }
}

/// Path data of one trace, thinned to what paper can show.
fn append_trace(data: &mut String, points_px: &[[f64; 2]], units_per_px: f64) {
    // The centre of the top-left pixel is (0, 0); the picture's corner lies half a pixel outside.
    let on_page = |point: &[f64; 2]| point.map(|value| (value + 0.5) * units_per_px);
    let mut last: Option<[f64; 2]> = None;
    let final_index = points_px.len().saturating_sub(1);
    for (index, point) in points_px.iter().map(on_page).enumerate() {
        if point.iter().any(|value| !value.is_finite()) {
            continue;
        }
        let far_enough = last.is_none_or(|[x, y]| (point[0] - x).hypot(point[1] - y) >= STEP);
        if far_enough || index == final_index {
            let command = if last.is_none() { 'M' } else { 'L' };
            let _ = write!(data, "{command}{} {}", number(point[0]), number(point[1]));
            last = Some(point);
        }
    }
}

/// A scale bar that is true for the drawing.
#[derive(Debug, Clone, PartialEq)]
struct ScaleBar {
    label: String,
    /// Length on the picture, px.
    length_px: f64,
    /// Length on the drawing.
    length_units: f64,
}

impl ScaleBar {
    /// The round length next below a third of the picture's width.
    fn of(capture: &Capture, units_per_px: f64) -> Self {
        let third_px = capture.width_px.max(1) as f64 / 3.0;
        let (label, length_px) = match &capture.scale {
            Some(scale) => {
                let um_per_px = scale.um_per_px.value();
                let length_um = round_below(third_px * um_per_px);
                let label = if length_um >= 1000.0 {
                    format!("{} mm", number(length_um / 1000.0))
                } else {
                    format!("{} µm", words::significant(length_um, 1))
                };
                (label, length_um / um_per_px)
            }
            None => {
                let length_px = round_below(third_px);
                (format!("{} px (no scale)", number(length_px)), length_px)
            }
        };
        Self { label, length_px, length_units: length_px * units_per_px }
    }
}

fn draw_scale_bar(canvas: &mut Canvas, bar: &ScaleBar, layout: &Layout) {
    let (x, y) = (layout.left, layout.bottom() + 12.0);
    canvas.line([x, y], [x + bar.length_units, y], Pen::solid(Ink::Dark, 2.5));
    for end in [x, x + bar.length_units] {
        canvas.line([end, y - 4.0], [end, y + 4.0], Pen::solid(Ink::Dark, 1.0));
    }
    canvas.text([x + bar.length_units + 7.0, y + 4.0], Anchor::Start, SMALL, &bar.label);
}

/// The key beside the heading of a traced picture, from `x` on.
fn draw_key(canvas: &mut Canvas, drawn: &Drawn, mut x: f64) {
    let y = HEAD_LINE;
    for (reading, count) in READINGS.into_iter().zip(drawn.of_reading) {
        if count == 0 {
            continue;
        }
        let style = style(reading);
        canvas.line(
            [x, y - 4.0],
            [x + 18.0, y - 4.0],
            Pen::with_dash(style.ink, style.width * 1.8, style.dash),
        );
        let label = format!("{} {}", words::thousands(count as u64), reading.word());
        canvas.text([x + 21.0, y], Anchor::Start, SMALL, &label);
        x += 29.0 + label.chars().count() as f64 * SMALL_LETTER;
    }
}

/// What has to be said under a traced picture, if anything; returns the y below it.
fn draw_remark(canvas: &mut Canvas, capture: &Capture, drawn: &Drawn, layout: &Layout, top: f64) -> f64 {
    let remark = if let Some(why) = &capture.refused {
        format!("No traces reported: {why}.")
    } else if drawn.total == 0 {
        "No traces found.".to_owned()
    } else if drawn.drawn < drawn.total {
        format!(
            "Only the {} longest of {} traces are drawn; all are counted and in the tables.",
            words::thousands(drawn.drawn as u64),
            words::thousands(drawn.total as u64)
        )
    } else {
        return top;
    };
    canvas.paragraph([layout.left, top + 12.0], Anchor::Start, SMALL, 56, &remark)
}

fn describe(capture: &Capture, overlay: Overlay, drawn: &Drawn, bar: &ScaleBar) -> String {
    let field = match capture.field_mm() {
        Some((width, height)) => {
            format!("field {} by {} mm", words::significant(width, 3), words::significant(height, 3))
        }
        None => format!("{} by {} px, no scale", capture.width_px, capture.height_px),
    };
    let bar = format!(
        "The scale bar is {}, {} px of the original.",
        bar.label,
        words::significant(bar.length_px, 3)
    );
    match overlay {
        Overlay::Bare => format!("Micrograph {}, {field}, as taken. {bar}", capture.file_name),
        Overlay::Traces => {
            let counts: Vec<String> = READINGS
                .into_iter()
                .zip(drawn.of_reading)
                .filter(|(_, count)| *count > 0)
                .map(|(reading, count)| format!("{} {}", words::thousands(count as u64), reading.word()))
                .collect();
            let traces = match (&capture.refused, counts.is_empty()) {
                (Some(why), _) => format!("no traces reported: {why}"),
                (None, true) => "no traces found".to_owned(),
                (None, false) => format!("traces over it: {}", words::list(&counts)),
            };
            let cut = if drawn.drawn < drawn.total {
                format!(" Only the {} longest are drawn.", words::thousands(drawn.drawn as u64))
            } else {
                String::new()
            };
            format!("Micrograph {}, {field}, dimmed, {traces}.{cut} {bar}", capture.file_name)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing;

    #[test]
    fn the_scale_bar_is_true() {
        for (width_px, um_per_px, label) in [
            (1600, 1.293, "500 µm"),
            (1600, 3.9, "2 mm"),
            (640, 0.25, "50 µm"),
            (3000, 0.05, "50 µm"),
            (900, 0.002, "0.5 µm"),
        ] {
            let capture = testing::capture_of(width_px, 1200, Some(um_per_px), vec![]);
            let layout = Layout::of(&capture);
            let bar = ScaleBar::of(&capture, layout.units_per_px);
            assert_eq!(bar.label, label, "{width_px} px at {um_per_px}");
            let (amount, unit) = label.split_once(' ').unwrap();
            let um = amount.parse::<f64>().unwrap() * if unit == "mm" { 1000.0 } else { 1.0 };
            // Half a pixel of the original, brought to the drawing.
            let wanted_units = um / um_per_px * layout.units_per_px;
            assert!((bar.length_units - wanted_units).abs() < 0.5 * layout.units_per_px);
            let svg = micrograph(&capture, Overlay::Bare).svg("m");
            let drawn = format!("x2=\"{}\"", number(layout.left + bar.length_units));
            assert!(svg.contains(&drawn), "{drawn} is not in the drawing");
        }
    }

    #[test]
    fn without_a_scale_the_bar_is_in_pixels() {
        let capture = testing::capture_of(1600, 1200, None, vec![]);
        let bar = ScaleBar::of(&capture, 0.2);
        assert_eq!(
            (bar.label.as_str(), bar.length_px, bar.length_units),
            ("500 px (no scale)", 500.0, 100.0)
        );
    }

    #[test]
    fn a_trace_lies_where_it_was_measured() {
        let traces = vec![testing::straight_trace(1, [99.5, 199.5], [499.5, 599.5])];
        let capture = testing::capture_of(1560, 1000, Some(1.0), traces);
        let svg = micrograph(&capture, Overlay::Traces).svg("m");
        // 312 units over 1560 px: one fifth.
        assert!(svg.contains("M20 40"), "start is not at a fifth of (100, 200)");
        assert!(svg.contains("L100 120"), "end is not at a fifth of (500, 600)");
    }

    #[test]
    fn readings_differ_in_dash_and_width_not_in_colour_alone() {
        let styles = READINGS.map(style);
        for (index, one) in styles.iter().enumerate() {
            for other in styles.iter().skip(index + 1) {
                assert_ne!(one.dash, other.dash);
            }
        }
    }

    #[test]
    fn what_is_not_drawn_is_said() {
        let short = |id: u32| {
            testing::straight_trace(id, [f64::from(id % 900), 5.0], [f64::from(id % 900) + 20.0, 25.0])
        };
        let figure = micrograph(
            &testing::capture_of(1000, 800, None, (1..=10_000).map(short).collect()),
            Overlay::Traces,
        );
        let svg = figure.svg("m");
        assert_eq!(svg.matches('M').count() - svg.matches("Micrograph").count(), DRAWN_AT_MOST);
        assert!(svg.contains("Only the 3,000 longest of 10,000 traces are drawn"));
        assert!(svg.len() < 400_000, "{} bytes", svg.len());
        let long = |id: u32| testing::straight_trace(id, [f64::from(id % 900), 5.0], [700.0, 780.0]);
        let figure = micrograph(
            &testing::capture_of(1000, 800, None, (1..=10_000).map(long).collect()),
            Overlay::Traces,
        );
        assert!(figure.description.contains("longest are drawn"), "{}", figure.description);
        assert!(!figure.description.contains("Only the 3,000"), "long traces would cover the whole picture");
    }
}
